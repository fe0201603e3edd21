"""Every page opens, finds, keeps and shows what it must."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING

import pytest

from lightoff.ground.message import message
from lightoff.records import body_of
from lightoff.terms.visit import Visit
from lightoff.texts import Speaker
from lightoff.web.page import glyph, spoken
from lightoff.web.report import report_name

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}
AS_PERSON = {"accept": "text/html"}
HEATER = {
    "heater_name": "bow heater",
    "heater_sheet": "generic_6_kw",
    "vehicle_name": "Sandpiper",
    "vehicle_kind": "coach",
    "owner_name": "Ola Brandt",
}


def test_every_page_opens_and_says_that_its_data_is_invented(bay: Bay, visit: str) -> None:
    heater = bay.ids["heater"]
    for path in (
        "/",
        "/settings",
        "/heaters/new",
        f"/heaters/{heater}",
        f"/heaters/{heater}/edit",
        f"/visits/{visit}",
        f"/visits/{visit}/hand-over",
    ):
        answer = bay.client.get(path)
        assert answer.status_code == 200, path
        assert "invented data" in answer.text, path
        assert answer.headers["cache-control"] == "no-store"


def test_the_list_finds_by_any_word(bay: Bay) -> None:
    for words in ("saltgrass", "Oduya aft", "0417"):
        assert "Saltgrass, aft heater" in bay.client.get("/", params={"search": words}).text
    nothing = bay.client.get("/", params={"search": "zeppelin"}).text
    assert "Saltgrass" not in nothing
    assert "Nothing matches “zeppelin”." in nothing


def test_a_heater_whose_visit_is_open_is_not_offered_another(bay: Bay) -> None:
    def offered(**asked: str) -> bool:
        return f'action="/heaters/{bay.ids["heater"]}/visits"' in bay.client.get("/", params=asked).text

    assert offered()
    assert offered(search="saltgrass")
    bay.start_visit()
    assert not offered()
    assert not offered(search="saltgrass")


def test_open_visits_come_first_and_the_last_heater_is_one_tap_away(bay: Bay, visit: str) -> None:
    bay.client.get(f"/heaters/{bay.ids['heater']}")
    text = bay.client.get("/").text
    assert text.index("Open visits") < text.index("Every heater")
    assert f'href="/visits/{visit}"' in text
    assert "opened here last" in text


def test_a_heater_is_added_once_however_often_the_form_is_sent(bay: Bay) -> None:
    page = bay.client.get("/heaters/new").text
    hidden = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page))
    for _ in range(2):
        answer = bay.client.post(
            "/heaters/new", data={**hidden, **HEATER}, headers=OWN, follow_redirects=False
        )
        assert answer.status_code == 303
    assert len(bay.workshop.book.search("Sandpiper")) == 1


def test_a_form_keeps_what_was_typed_and_marks_each_box(bay: Bay) -> None:
    data = {**HEATER, "owner_name": "", "heater_fitted_on": "last spring"}
    answer = bay.client.post("/heaters/new", data=data, headers=OWN)
    assert answer.status_code == 422
    assert 'value="Sandpiper"' in answer.text
    assert "This is needed. Type it." in answer.text
    assert "“last spring” is not a date. Type it as 2026-11-25." in answer.text
    assert bay.workshop.book.search("Sandpiper") == ()


def test_editing_keeps_only_what_changed(bay: Bay) -> None:
    heater = bay.ids["heater"]
    page = bay.client.get(f"/heaters/{heater}/edit").text
    assert 'value="aft heater"' in page
    before = len(bay.workshop.book.entries(bay.ids["owner"]))
    data = {
        "heater_name": "stern heater",
        "heater_sheet": "generic_12_kw",
        "heater_serial": "0417",
        "vehicle_name": "Saltgrass",
        "vehicle_kind": "boat",
        "owner_name": "Mira Oduya",
    }
    answer = bay.client.post(f"/heaters/{heater}/edit", data=data, headers=OWN, follow_redirects=False)
    assert answer.status_code == 303
    assert bay.workshop.book.heater(heater).name == "stern heater"
    assert len(bay.workshop.book.entries(bay.ids["owner"])) == before


def test_a_second_start_goes_on_with_the_open_visit(bay: Bay, visit: str) -> None:
    assert bay.start_visit() == visit


def test_a_visit_begun_by_mistake_is_taken_back_while_nothing_stands_in_it(bay: Bay, visit: str) -> None:
    assert f'action="/visits/{visit}/take-back"' in bay.client.get(f"/visits/{visit}").text
    gone = bay.client.post(f"/visits/{visit}/take-back", headers=OWN, follow_redirects=False)
    assert gone.headers["location"] == f"/heaters/{bay.ids['heater']}"
    assert bay.client.get(f"/visits/{visit}").status_code == 404
    assert bay.workshop.book.visits_of(bay.ids["heater"]) == ()
    assert len(bay.workshop.book.entries(visit)) == 2
    assert (
        bay.client.get("/").status_code == bay.client.get(f"/heaters/{bay.ids['heater']}").status_code == 200
    )
    assert bay.start_visit() != visit


def test_a_visit_taken_back_stands_again_when_another_phone_has_something_of_it(bay: Bay, visit: str) -> None:
    assert "took this visit back" not in bay.client.get(f"/visits/{visit}").text
    bay.client.post(f"/visits/{visit}/take-back", headers=OWN)
    bay.clock.later(minutes=5)
    (kept,) = bay.send(bay.reading("hour_meter", "1912", "h", stage="as found"))
    assert kept["outcome"] == "kept"
    assert [each.key for each in bay.workshop.book.visit(visit).readings] == ["hour_meter"]
    card = bay.client.get(f"/visits/{visit}").text
    assert "J. Aalto took this visit back on 25 November 2026 at 14:00." in card
    assert "It stands again since 14:05, by an entry of J. Aalto." in card
    assert "taken back once, stands again" in bay.client.get(f"/heaters/{bay.ids['heater']}").text


def test_a_visit_in_which_something_stands_is_not_taken_back(bay: Bay, visit: str) -> None:
    bay.send(bay.reading("hour_meter", "1912", "h", stage="as found"))
    assert "take-back" not in bay.client.get(f"/visits/{visit}").text
    refused = bay.client.post(f"/visits/{visit}/take-back", headers=OWN)
    assert refused.status_code == 422
    assert "is not taken back" in refused.text
    assert bay.workshop.book.visit(visit).readings


def test_close_reopen_and_late_reading(bay: Bay, visit: str) -> None:
    bay.clock.later(minutes=30)
    closed = bay.client.post(f"/visits/{visit}/close", headers=OWN, follow_redirects=False)
    assert closed.headers["location"] == f"/visits/{visit}/hand-over"
    bay.clock.later(minutes=5)
    late = bay.reading("flue_co", "38", "ppm", set_number=1, instrument=bay.ids["flue_gas_probe"])
    bay.send(late)
    page = bay.client.get(f"/visits/{visit}").text
    assert "Accept the late reading" in page
    bay.client.post(f"/visits/{visit}/accept", data={"reading": late["id"]}, headers=OWN)
    (reading,) = bay.workshop.book.visit(visit).readings
    assert reading.accepted_by == "J. Aalto"
    bay.client.post(f"/visits/{visit}/reopen", headers=OWN)
    assert bay.workshop.book.visit(visit).closed_at is None


def test_the_three_statements_stand_apart(bay: Bay, visit: str) -> None:
    text = bay.client.get(f"/visits/{visit}/hand-over").text
    assert text.index("Not proven") < text.index("Work done") < text.index("What was measured")
    assert "What the verdict rests on" in text


def test_the_card_names_the_source_of_each_limit_it_judged_by(bay: Bay, visit: str) -> None:
    probe = {"set_number": 1, "instrument": bay.ids["flue_gas_probe"]}
    bay.send(
        bay.reading("flue_o2", "4.8", "%", basis="dry", **probe),
        bay.reading("flue_co", "138", "ppm", **probe),
        bay.reading("smoke_number", "3", "smoke no.", instrument=bay.ids["smoke_pump"]),
    )
    card = bay.client.get(f"/visits/{visit}").text
    card = card[card.index('id="assessment"') :]
    for kind, limit in (("gates", "at most 1"), ("rests", "at most 200 ppm")):
        told = re.search(rf'<details class="{kind}">.*?</details>', card, flags=re.DOTALL)
        assert told is not None, kind
        assert f"Limit {limit}: common practice, no source" in told[0].replace("\u00a0", " ")


def test_the_report_is_a_pdf(bay: Bay, visit: str) -> None:
    answer = bay.client.get(f"/visits/{visit}/report.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("names", "file"),
    [
        (("Saltgrass", "aft heater"), "saltgrass-aft-heater-2026-11-25.pdf"),
        (("Ålesund <b>", 'no. "2"/..'), "alesund-b-no-2-2026-11-25.pdf"),
        (("سفينة", "\r\nx: y"), "x-y-2026-11-25.pdf"),
        (("⛵", ""), "heater-2026-11-25.pdf"),
        (("m" * 300, "aft"), f"{'m' * 60}-2026-11-25.pdf"),
    ],
)
def test_a_report_bears_the_name_of_its_heater(names: tuple[str, str], file: str) -> None:
    assert report_name(*names, date(2026, 11, 25)) == file


@pytest.mark.parametrize("kind", ["toml", "json"])
def test_the_visit_comes_as_a_file(bay: Bay, visit: str, kind: str) -> None:
    answer = bay.client.get(f"/visits/{visit}.{kind}")
    assert answer.status_code == 200
    assert "attachment" in answer.headers["content-disposition"]
    assert bay.ids["heater"] in answer.text


def test_settings_are_kept(bay: Bay) -> None:
    data = {
        "shop_name": "Heron Quay",
        "shop_technician": "J. Aalto",
        "shop_units": "us",
        "shop_paper": "letter",
    }
    assert bay.client.post("/settings/shop", data=data, headers=OWN).status_code == 200
    shop = bay.workshop.book.shop()
    assert (shop.name, shop.units, shop.paper, shop.invented) == ("Heron Quay", "us", "letter", True)


def test_an_instrument_is_added_mended_and_retired(bay: Bay) -> None:
    data = {"kind": "dc_clamp", "instrument_name": "Clamp", "calibrated_on": "2026-05-01"}
    bay.client.post("/settings/instruments", data=data, headers=OWN)
    clamp = next(each for each in bay.workshop.book.instruments().values() if each.kind == "dc_clamp")
    bay.clock.later(minutes=1)
    data = {**data, "instrument": clamp.id, "retired": "yes"}
    bay.client.post("/settings/instruments", data=data, headers=OWN)
    assert bay.workshop.book.instruments()[clamp.id].retired


def test_appearance_and_gloves_follow_the_cookie(bay: Bay) -> None:
    bay.client.post("/settings/reader", data={"appearance": "dark", "gloves": "yes"}, headers=OWN)
    text = bay.client.get("/").text
    assert 'data-appearance="dark"' in text
    assert 'data-gloves="yes"' in text


def test_fields_of_instruments_that_are_not_owned_are_folded_away(bay: Bay, visit: str) -> None:
    text = bay.client.get(f"/visits/{visit}").text
    step = text[text.index('id="step-fuel_rate"') : text.index('id="step-close"')]
    folded = step.index("for instruments that the shop does not own")
    assert step.index('data-key="fuel_volume"') > folded


def test_a_stored_reading_comes_back_as_it_was_typed(bay: Bay, visit: str) -> None:
    probe = bay.ids["flue_gas_probe"]
    bay.send(bay.reading("flue_o2", "4.80", "%", basis="dry", set_number=1, instrument=probe))
    assert 'value="4.80"' in bay.client.get(f"/visits/{visit}").text


def test_what_is_shown_is_escaped(bay: Bay) -> None:
    data = {**HEATER, "vehicle_name": "<script>alert(1)</script>", "owner_name": '"><img src=x onerror=y>'}
    answer = bay.client.post("/heaters/new", data=data, headers=OWN)
    for text in (answer.text, bay.client.get("/").text):
        assert "<script>alert(1)" not in text
        assert "<img src=x" not in text
        assert "&lt;script&gt;alert(1)" in text


def test_healthz_answers(bay: Bay) -> None:
    assert bay.client.get("/healthz").text == "ok\n"


def test_us_customary_turns_every_shown_unit(bay: Bay, visit: str) -> None:
    probe = bay.ids["flue_gas_probe"]
    bay.send(
        bay.reading("flue_o2", "4.8", "%", basis="dry", set_number=1, instrument=probe),
        bay.reading("stack_gas_temperature", "457", "degF", set_number=1, instrument=probe),
        bay.reading("combustion_air_temperature", "52", "degF", set_number=1, instrument=probe),
    )
    bay.client.cookies.set("lightoff_units", "us")
    card = bay.client.get(f"/visits/{visit}").text
    assert 'value="457"' in card
    handed = bay.client.get(f"/visits/{visit}/hand-over").text
    assert "°F" in handed
    assert "°C" not in re.sub(r"<section[^>]*>.*?What the verdict rests on.*", "", handed, flags=re.S)


def test_a_page_goes_on_with_the_test_that_was_begun_last(bay: Bay, visit: str) -> None:
    assert 'data-test="1"' in bay.client.get(f"/visits/{visit}").text
    older, newer = bay.new_id(), bay.new_id()
    bay.clock.later(minutes=1)
    later = bay.new_id()
    probe = bay.ids["flue_gas_probe"]
    told = {"set_number": 1, "instrument": probe}
    for test in (later, "2", newer, older):
        bay.clock.later(minutes=1)
        bay.send(bay.reading("flue_co", "38", "ppm", test=test, **told))
    assert f'data-test="{later}"' in bay.client.get(f"/visits/{visit}").text


def test_tests_of_a_file_follow_their_latest_reading(bay: Bay, visit: str) -> None:
    for test in ("2", "1"):
        bay.clock.later(minutes=1)
        bay.send(bay.reading("flue_co", "38", "ppm", test=test, instrument=bay.ids["flue_gas_probe"]))
    assert 'data-test="1"' in bay.client.get(f"/visits/{visit}").text


def test_a_known_owner_or_vehicle_is_found_and_picked(bay: Bay) -> None:
    for words in ("oduya", "SALTGRASS", "0417", "mira aft"):
        found = bay.client.get("/heaters/new", params={"known": words}).text
        assert f'value="vehicle:{bay.ids["vehicle"]}"' in found, words
        assert f'value="owner:{bay.ids["owner"]}"' in found, words
    assert "Nothing matches “zeppelin”" in bay.client.get("/heaters/new", params={"known": "zeppelin"}).text
    assert 'name="pick"' not in bay.client.get("/heaters/new").text
    for pick, name, vehicle in (
        (f"vehicle:{bay.ids['vehicle']}", "bow heater", "Saltgrass"),
        (f"owner:{bay.ids['owner']}", "cabin heater", "Sandpiper"),
    ):
        data = {**HEATER, "pick": pick, "heater_name": name, "owner_name": ""}
        answer = bay.client.post("/heaters/new", data=data, headers=OWN, follow_redirects=False)
        assert answer.status_code == 303, answer.text
        line = bay.workshop.book.line(answer.headers["location"].rsplit("/", 1)[1])
        assert (line.owner.name, line.vehicle.name, line.heater.name) == ("Mira Oduya", vehicle, name)
    assert len(bay.workshop.book.owners()) == 1


def test_a_picked_vehicle_is_still_picked_beside_what_is_wrong(bay: Bay) -> None:
    data = {**HEATER, "pick": f"vehicle:{bay.ids['vehicle']}", "heater_name": ""}
    answer = bay.client.post("/heaters/new", data=data, headers=OWN)
    assert answer.status_code == 422
    assert "This is needed. Type it." in answer.text
    assert f'name="vehicle" value="{bay.ids["vehicle"]}"' in answer.text
    assert "Saltgrass" in answer.text
    gone = bay.client.post("/heaters/new", data={**HEATER, "pick": "vehicle:nobody"}, headers=OWN)
    assert gone.status_code == 404


def test_letters_that_cannot_be_printed_are_told_where_they_are_typed(bay: Bay) -> None:
    typed = {**HEATER, "vehicle_name": "日本 نورس ⚓", "heater_name": "bow heater"}
    answer = bay.client.post("/heaters/new", data=typed, headers=OWN)
    told = "The report cannot print these letters and shows “?” in their place: 日 本<"
    assert told in answer.text
    edit = re.search(r'href="(/heaters/[^"/]+/edit)"', answer.text)
    assert edit is not None
    assert told in bay.client.get(edit[1]).text
    visit = bay.client.post(edit[1].replace("/edit", "/visits"), headers=OWN)
    assert told in bay.client.get(f"{visit.url.path}/hand-over").text


def test_letters_that_print_are_not_told_of(bay: Bay, visit: str) -> None:
    typed = {**HEATER, "vehicle_name": "نورس שחף Чайка ⚓"}
    answer = bay.client.post("/heaters/new", data=typed, headers=OWN)
    assert "cannot print" not in answer.text
    assert "cannot print" not in bay.client.get(f"/visits/{visit}/hand-over").text


def test_what_is_set_or_opened_after_a_test_begins_the_next(bay: Bay, visit: str) -> None:
    def moved(kind: str) -> str:
        bay.clock.later(minutes=1)
        entry = bay.entry(
            {"heater": bay.ids["heater"], "kind": kind, "at": bay.clock().isoformat()}, named="event"
        )
        bay.send(entry)
        return str(entry["id"])

    def read(test: str) -> None:
        bay.clock.later(minutes=1)
        probe = bay.ids["flue_gas_probe"]
        bay.send(bay.reading("flue_co", "38", "ppm", test=test, set_number=1, instrument=probe))

    def current() -> str:
        found = re.search(r'data-test="([^"]+)"', bay.client.get(f"/visits/{visit}").text)
        assert found is not None
        return found[1]

    opened = moved("opened")
    assert current() == opened, "the first one too, so that two phones never share it unknown"
    read("1")
    assert current() == "1", "a page of an earlier day goes on as it was begun"
    moved("closed up")
    assert current() == "1"
    adjusted = moved("adjusted")
    assert current() == adjusted
    read(adjusted)
    assert current() == adjusted


@pytest.mark.parametrize("verdict", ["stop", "not fit", "not proven", "fit as tested"])
def test_a_verdict_in_a_sentence_has_its_own_shape(verdict: str) -> None:
    speaker = Speaker()
    kind = (
        verdict.replace(" ", "_")
        .replace("fit_as_tested", "fit")
        .replace("not_proven", "not_proven_above_last")
    )
    said = message(f"judging.closing_{kind}", state=f"@verdict_word.{verdict}", what=())
    assert glyph(verdict) in spoken(speaker, said)


def test_a_complete_service_without_a_reason_is_named_on_the_heaters_page(bay: Bay) -> None:
    visit = bay.start_visit()
    heater = f"/heaters/{bay.ids['heater']}"
    said = Visit(id=visit, heater=bay.ids["heater"], started_at=bay.clock(), service_complete=True)
    (stands,) = bay.workshop.book.standing("visit", visit)
    bay.send(bay.entry(body_of(said), named="visit", corrects=stands.id))  # type: ignore[arg-type]
    bay.client.post(f"/visits/{visit}/close", headers=OWN)
    text = bay.client.get(heater).text
    assert text.count("complete service") >= 2, "on the line of visits and in the list"
