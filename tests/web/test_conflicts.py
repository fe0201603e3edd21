"""Entries that contradict each other: shown side by side on every page they concern; one tap chooses."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner

from lightoff.cli import main
from lightoff.cli.summary import summary
from lightoff.judging.assessment import Assessment, Judgement
from lightoff.records import SHOP
from lightoff.report.content import content
from lightoff.terms.people import Planning, Shop
from lightoff.texts import Speaker
from lightoff.work.assess_visit import assess_visit
from lightoff.work.keep_visit_file import keep_visit_file
from lightoff.work.order_of_visit import unanswered
from lightoff.work.visit_file import read_visit_file
from lightoff.work.workshop import open_shop

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}
TITLE = "Somebody has to choose"


def words_of(page: str) -> str:
    """The page without its tags, and with plain blanks."""
    return re.sub(
        r"\s+", " ", re.sub(r"<[^>]+>", "", page.replace("</p>", " ")).replace("\N{NO-BREAK SPACE}", " ")
    )


def forms(page: str) -> list[dict[str, str]]:
    """The hidden fields of each choice of a page."""
    found = re.findall(r'action="/conflicts/choose">(.*?)</form>', page, flags=re.S)
    return [dict(re.findall(r'name="(\w+)" value="([^"]*)"', each)) for each in found]


def choose(bay: Bay, page: str, words: str) -> Any:
    """Tap the candidate that says these words."""
    answer = bay.client.get(page)
    pieces = re.findall(r'action="/conflicts/choose">(.*?)</form>', answer.text, flags=re.S)
    (piece,) = [each for each in pieces if words in words_of(each.split("</p>")[0])]
    data = dict(re.findall(r'name="(\w+)" value="([^"]*)"', piece))
    return bay.client.post("/conflicts/choose", data=data, headers=OWN, follow_redirects=False)


def conflict_gate(bay: Bay) -> Judgement:
    _, assessment = assess_visit(bay.workshop, bay.ids["visit"], bay.clock())
    return gate_of(assessment)


def gate_of(assessment: Assessment) -> Judgement:
    return next(each.judgement for each in assessment.verdict.gates if each.gate == "conflict")


def another_sheet(bay: Bay) -> None:
    bay.clock.later(minutes=3)
    heater = bay.workshop.book.heater(bay.ids["heater"])
    bay.keep(replace(heater, sheet="generic_6_kw"), "heater", subject=heater.id)


def another_calibration(bay: Bay) -> None:
    bay.clock.later(minutes=3)
    probe = bay.workshop.book.instruments()[bay.ids["flue_gas_probe"]]
    bay.keep(replace(probe, calibrated_on=date(2020, 1, 5)), "instrument", subject=probe.id)


def test_two_sheets_of_a_heater_stand_side_by_side_until_one_is_chosen(bay: Bay, visit: str) -> None:
    heater = bay.ids["heater"]
    bay.send(bay.reading("smoke_number", "0", "smoke no.", instrument=bay.ids["smoke_pump"]))
    another_sheet(bay)
    assert conflict_gate(bay) is Judgement.NOT_PROVEN
    for path in (f"/visits/{visit}", f"/heaters/{heater}", f"/heaters/{heater}/edit"):
        page = words_of(bay.client.get(path).text)
        assert TITLE in page, path
        assert "Type Generic 12 kW, metering pump" in page
        assert "Type Generic 6 kW" in page
        assert "J. Aalto, 25 November 2026, 14:03" in page
        assert "not proven until somebody chooses" in page
    handed = words_of(bay.client.get(f"/visits/{visit}/hand-over").text)
    assert "type Generic 12 kW, metering pump (J. Aalto" in handed

    answer = choose(bay, f"/visits/{visit}", "Generic 12 kW")
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/visits/{visit}"
    assert bay.workshop.book.heater(heater).sheet == "generic_12_kw"
    assert bay.workshop.book.conflicts() == ()
    assert conflict_gate(bay) is Judgement.WITHIN
    assert TITLE not in bay.client.get(f"/visits/{visit}").text
    lines = bay.workshop.book.history(heater)
    assert len(lines) == 4, "nothing is lost"
    assert sum(each.is_live for each in lines) == 1


def test_report_file_and_command_line_tell_it_too(bay: Bay, visit: str, tmp_path: Path) -> None:
    another_sheet(bay)
    case, assessment = assess_visit(bay.workshop, visit, bay.clock())
    six = bay.workshop.shelf.sheets["generic_6_kw"].name
    told = f"type Generic 12 kW, metering pump (J. Aalto, 25 November 2026, 14:00) and type {six} (J. Aalto"
    speaker = Speaker(own=bay.workshop.shelf.own_words)
    whole = content(case, assessment, shelf=bay.workshop.shelf, speaker=speaker, photos={})
    assert any(told in row[1] for row in whole["proof"]["open"]["rows"])
    assert told in " ".join(summary(case, assessment, speaker).split())
    assert bay.client.get(f"/visits/{visit}/report.pdf").content.startswith(b"%PDF-")
    for kind in ("toml", "json"):
        file = tmp_path / f"visit.{kind}"
        file.write_bytes(bay.client.get(f"/visits/{visit}.{kind}").content)
        found = CliRunner().invoke(main, ["assess", str(file)])
        assert found.exit_code == 10
        assert told in " ".join(found.stdout.split())


def test_an_expired_calibration_does_not_become_valid_by_the_clock(bay: Bay, visit: str) -> None:
    probe = bay.ids["flue_gas_probe"]
    another_calibration(bay)
    assert TITLE not in bay.client.get(f"/visits/{visit}").text, "the visit has not used it"
    bay.send(bay.reading("flue_o2", "4.8", "%", basis="dry", set_number=1, instrument=probe))
    page = words_of(bay.client.get(f"/visits/{visit}").text)
    assert "The instrument “Probe A”" in page
    assert "Calibrated on 1 September 2026" in page
    assert "Calibrated on 5 January 2020" in page
    assert TITLE in bay.client.get("/settings").text
    choose(bay, "/settings", "5 January 2020")
    assert bay.workshop.book.instruments()[probe].calibrated_on == date(2020, 1, 5)
    assert bay.workshop.book.conflicts() == ()


def test_two_readings_in_one_place(bay: Bay, visit: str) -> None:
    told = {"set_number": 1, "instrument": bay.ids["flue_gas_probe"]}
    bay.send(bay.reading("flue_co", "38", "ppm", **told), bay.reading("flue_co", "380", "ppm", **told))
    page = words_of(bay.client.get(f"/visits/{visit}").text)
    assert "38 ppm J. Aalto, 25 November 2026, 14:00" in page
    assert "380 ppm J. Aalto, 25 November 2026, 14:00" in page
    assert conflict_gate(bay) is Judgement.NOT_PROVEN
    choose(bay, f"/visits/{visit}", "38 ppm")
    (reading,) = bay.workshop.book.visit(visit).readings
    assert str(reading.value) == "38"
    assert conflict_gate(bay) is Judgement.WITHIN


def test_a_choice_after_the_close_stands_without_a_second_tap(bay: Bay, visit: str) -> None:
    told = {"set_number": 1, "instrument": bay.ids["flue_gas_probe"]}
    bay.send(bay.reading("flue_co", "38", "ppm", **told), bay.reading("flue_co", "380", "ppm", **told))
    bay.clock.later(minutes=9)
    bay.client.post(f"/visits/{visit}/close", headers=OWN)
    bay.clock.later(minutes=9)
    choose(bay, f"/visits/{visit}", "380 ppm")
    (reading,) = bay.workshop.book.visit(visit).readings
    assert (str(reading.value), reading.accepted_by) == ("380", "J. Aalto")
    assert "Accept the late reading" not in bay.client.get(f"/visits/{visit}").text


def step(bay: Bay, key: str, outcome: str = "done", **more: Any) -> dict[str, Any]:
    body = {"heater": bay.ids["heater"], "step": key, "outcome": outcome, "at": bay.clock().isoformat()}
    return bay.entry({**body, **more}, named="step")


def task(page: str, key: str) -> str:
    """What a step of the card says."""
    return page[page.index(f'id="task-{key}"') :].split('<li class="task')[0]


def test_two_answers_of_one_step_stand_side_by_side_until_one_is_chosen(bay: Bay, visit: str) -> None:
    bay.send(bay.reading("smoke_number", "0", "smoke no.", instrument=bay.ids["smoke_pump"]))
    assert conflict_gate(bay) is Judgement.WITHIN
    bay.send(step(bay, "isolate", state="dead"), step(bay, "let_cool"))
    assert conflict_gate(bay) is Judgement.WITHIN
    bay.clock.later(minutes=4)
    bay.send(step(bay, "isolate", state="still live"), step(bay, "let_cool", note="grouped"))
    assert conflict_gate(bay) is Judgement.NOT_PROVEN
    card = bay.client.get(f"/visits/{visit}").text
    assert TITLE in card
    shown = words_of(card)
    assert "Dead J. Aalto, 25 November 2026, 14:00" in shown
    assert "Still live J. Aalto, 25 November 2026, 14:04" in shown
    doctor = CliRunner().invoke(main, ["doctor", "--shop", str(bay.workshop.folder)]).output
    assert "Saltgrass, aft heater, visit of 25 November 2026: The entries of" in doctor
    assert "not proven until somebody chooses" in shown
    assert 'href="#conflicts"' in card, "the foot leads to it"
    row = task(card, "isolate")
    assert "answered in two ways" in row
    assert 'aria-pressed="true"' not in row
    assert "answered in two ways" not in task(card, "let_cool"), "the same twice is no conflict"
    assert " >Wait" in task(card, "open_cover"), "what may be live holds what is opened"
    for path in ("hand-over", "report.pdf"):
        assert bay.client.get(f"/visits/{visit}/{path}").status_code == 200
    handed = words_of(bay.client.get(f"/visits/{visit}/hand-over").text)
    assert "contradict each other: dead (J. Aalto" in handed

    assert choose(bay, f"/visits/{visit}", "Dead").status_code == 303
    assert conflict_gate(bay) is Judgement.WITHIN
    answers = {each.step: each.state for each in bay.workshop.book.visit(visit).steps}
    assert answers == {"isolate": "dead", "let_cool": ""}
    card = bay.client.get(f"/visits/{visit}").text
    assert TITLE not in card
    assert 'aria-pressed="true"' in task(card, "isolate")
    assert "hidden>Wait" in task(card, "open_cover")


def test_an_answer_taken_back_on_one_phone_and_changed_on_another_is_chosen_too(bay: Bay, visit: str) -> None:
    first = step(bay, "isolate", state="dead")
    bay.send(first)
    bay.send(
        bay.entry(None, named="step", corrects=first["id"]),
        {**step(bay, "isolate", state="still live"), "corrects": first["id"]},
    )
    assert conflict_gate(bay) is Judgement.NOT_PROVEN
    choose(bay, f"/visits/{visit}", "Withdrawn")
    assert bay.workshop.book.visit(visit).steps == ()
    assert bay.workshop.book.conflicts() == ()


def test_two_phones_that_renewed_one_part_leave_one_new_piece(bay: Bay, visit: str) -> None:
    heater = bay.ids["heater"]
    for _ in range(2):
        bay.clock.later(minutes=1)
        part = bay.entry({"kind": "fuel_filter", "heater": heater}, named="part")
        part["subject"] = part["id"]
        told = {"heater": heater, "part": part["id"], "kind": "fitted", "at": bay.clock().isoformat()}
        move = bay.entry(told, named="move")
        bay.send(part, move, step(bay, "renew_fuel_filter", exchange=[part["id"], move["id"]]))
    assert len(bay.workshop.book.parts(heater)) == 2
    card = words_of(bay.client.get(f"/visits/{visit}").text)
    assert "The verdict does not rest on it" in card
    assert "Done, with a new one J. Aalto, 25 November 2026, 14:01" in card
    first = forms(bay.client.get(f"/visits/{visit}").text)[0]
    bay.client.post("/conflicts/choose", data=first, headers=OWN)
    (kept,) = bay.workshop.book.parts(heater)
    (moved,) = bay.workshop.book.visit(visit).moves
    assert moved.part == kept.id
    assert moved.at.minute == 1, "the piece of the answer that stands"
    assert bay.workshop.book.conflicts() == ()


def test_a_file_carries_both_answers_of_a_step(bay: Bay, visit: str, tmp_path: Path) -> None:
    bay.send(step(bay, "isolate", state="dead"))
    bay.clock.later(minutes=4)
    bay.send(step(bay, "isolate", state="still live"))
    for kind in ("toml", "json"):
        file = tmp_path / f"visit.{kind}"
        file.write_bytes(bay.client.get(f"/visits/{visit}.{kind}").content)
        assert CliRunner().invoke(main, ["assess", str(file)]).exit_code == 10
        case = read_visit_file(file.read_bytes(), file.name, bay.workshop.shelf)
        assert keep_visit_file(bay.workshop, case) == (), "nothing new to the book that it came from"
        assert len(bay.workshop.book.conflicts()) == 1
        with open_shop(tmp_path / kind) as other:
            keep_visit_file(other, case)
            (found,) = other.book.conflicts()
            assert {getattr(each.says, "state", "") for each in found.candidates} == {"dead", "still live"}


def test_a_second_tap_does_no_harm(bay: Bay, visit: str) -> None:
    another_sheet(bay)
    shown = forms(bay.client.get(f"/visits/{visit}").text)
    assert len(shown) == 2
    for _ in range(2):
        bay.client.post("/conflicts/choose", data=shown[0], headers=OWN)
    assert len(bay.workshop.book.history(bay.ids["heater"])) == 4
    bay.client.post("/conflicts/choose", data=shown[1], headers=OWN)
    assert bay.workshop.book.heater(bay.ids["heater"]).sheet == "generic_12_kw", "it was settled before"


def test_what_arrived_since_the_page_was_shown_is_not_chosen_over(bay: Bay, visit: str) -> None:
    another_sheet(bay)
    shown = forms(bay.client.get(f"/visits/{visit}").text)
    heater = bay.workshop.book.heater(bay.ids["heater"])
    bay.keep(replace(heater, sheet="generic_16_kw"), "heater", subject=heater.id)
    bay.client.post("/conflicts/choose", data=shown[0], headers=OWN)
    (left,) = bay.workshop.book.conflicts()
    assert {each.says.sheet for each in left.candidates if each.says} == {"generic_12_kw", "generic_16_kw"}  # type: ignore[union-attr]


@pytest.mark.parametrize("back", ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere", ""])
def test_the_choice_leads_to_no_other_site(bay: Bay, visit: str, back: str) -> None:
    another_sheet(bay)
    data = forms(bay.client.get(f"/visits/{visit}").text)[0] | {"back": back}
    answer = bay.client.post("/conflicts/choose", data=data, headers=OWN, follow_redirects=False)
    assert answer.headers["location"] == "/"


def test_an_edit_takes_the_place_of_what_its_form_showed(bay: Bay) -> None:
    heater = bay.ids["heater"]
    path = f"/heaters/{heater}/edit"
    page = bay.client.get(path).text
    hidden = dict(re.findall(r'<input type="hidden" name="(\w+_stands)" value="([^"]*)"', page))
    assert set(hidden) == {"owner_stands", "vehicle_stands", "heater_stands"}
    typed = {
        "heater_name": "aft heater",
        "heater_sheet": "generic_12_kw",
        "heater_serial": "0417",
        "vehicle_name": "Saltgrass",
        "vehicle_kind": "boat",
        "owner_name": "Mira Oduya",
    }
    for serial in ("0418", "0419", "0418"):
        bay.clock.later(minutes=1)
        shown = bay.client.get(path).text
        hidden = dict(re.findall(r'<input type="hidden" name="(\w+_stands)" value="([^"]*)"', shown))
        bay.client.post(path, data={**hidden, **typed, "heater_serial": serial}, headers=OWN)
        assert bay.workshop.book.heater(heater).serial == serial
    assert bay.workshop.book.conflicts() == (), "one edit after the other is no conflict"

    # Two forms that were open side by side: the later one overwrites nothing unseen.
    shown = bay.client.get(path).text
    hidden = dict(re.findall(r'<input type="hidden" name="(\w+_stands)" value="([^"]*)"', shown))
    for change in ({"heater_sheet": "generic_6_kw"}, {"heater_sheet": "generic_16_kw"}):
        bay.clock.later(minutes=1)
        bay.client.post(path, data={**hidden, **typed, "heater_serial": "0418", **change}, headers=OWN)
    (found,) = bay.workshop.book.conflicts()
    assert (found.noun, found.parts) == ("heater", ("sheet",))


def test_what_a_stale_form_did_not_change_gets_no_entry(bay: Bay) -> None:
    path = f"/heaters/{bay.ids['heater']}/edit"
    page = bay.client.get(path).text
    hidden = dict(re.findall(r'<input type="hidden" name="(\w+_stands)" value="([^"]*)"', page))
    typed = {
        "heater_name": "aft heater",
        "heater_sheet": "generic_12_kw",
        "heater_serial": "0417",
        "vehicle_name": "Saltgrass",
        "vehicle_kind": "boat",
        "owner_name": "Mira Oduya",
        **hidden,
    }
    bay.client.post(path, data=typed | {"owner_name": "Mira Oduya-Berg"}, headers=OWN)
    bay.client.post(path, data=typed | {"heater_name": "stern heater"}, headers=OWN)
    assert bay.workshop.book.owner(bay.ids["owner"]).name == "Mira Oduya-Berg"
    assert bay.workshop.book.heater(bay.ids["heater"]).name == "stern heater"
    assert bay.workshop.book.conflicts() == ()


def test_the_shop_and_its_instruments_are_mended_without_conflict(bay: Bay) -> None:
    probe = bay.workshop.book.instruments()[bay.ids["flue_gas_probe"]]
    bay.keep(replace(probe, earlier_calibrations=(date(2025, 9, 1),)), "instrument", subject=probe.id)
    choose(bay, "/settings", "1 September 2025")
    for day in ("2026-10-01", "2026-11-01"):
        bay.clock.later(minutes=1)
        page = bay.client.get("/settings").text
        form = next(each for each in page.split("<form") if f'value="{probe.id}"' in each)
        data = dict(re.findall(r'name="(\w+)" value="([^"]*)"', form)) | {
            "instrument_name": "Probe A",
            "calibrated_on": day,
        }
        assert data["stands"]
        bay.client.post("/settings/instruments", data=data, headers=OWN)
        shop = {"shop_name": f"Heat {day}", "shop_technician": "J. Aalto", "shop_paper": "a4"}
        stands = dict(re.findall(r'name="(shop_stands)" value="([^"]*)"', page))
        bay.client.post("/settings/shop", data=shop | stands, headers=OWN)
    kept = bay.workshop.book.instruments()[probe.id]
    assert (kept.calibrated_on, kept.earlier_calibrations) == (date(2026, 11, 1), (date(2025, 9, 1),))
    assert bay.workshop.book.shop().name == "Heat 2026-11-01"
    assert bay.workshop.book.conflicts() == ()
    bay.keep(Shop(name="Other"), "shop", subject=SHOP)
    page = bay.client.get("/settings").text
    assert "The shop" in page
    assert "The verdict does not rest on it." in page


def test_an_answer_that_still_waits_on_a_phone_is_seen_to_contradict(bay: Bay, visit: str) -> None:
    bay.send(bay.reading("smoke_number", "0", "smoke no.", instrument=bay.ids["smoke_pump"]))
    first = step(bay, "isolate", state="dead")
    bay.send(first)

    def leads_to(*drafts: dict[str, Any]) -> str:
        answer = bay.client.post(f"/visits/{visit}/preview", json=list(drafts), headers=OWN)
        return str(answer.json()["next"]["anchor"])

    assert leads_to(step(bay, "isolate", state="still live")) == "#conflicts"
    assert leads_to(step(bay, "isolate", state="dead")) != "#conflicts"
    assert leads_to(first) != "#conflicts"
    assert leads_to({**step(bay, "isolate", state="still live"), "corrects": first["id"]}) != "#conflicts"


def test_what_nobody_may_leave_out_and_nobody_answered_is_told_on_every_face(
    bay: Bay, visit: str, tmp_path: Path
) -> None:
    def told(page: str) -> str:
        return page.partition("Not answered, though nobody may leave it out:")[2].partition(".")[0]

    assert not told(words_of(bay.client.get(f"/visits/{visit}/hand-over").text)), "nobody followed the order"
    bay.send(step(bay, "let_cool"), step(bay, "open_cover", note="grouped"))
    seen = {"key": "co_alarm", "state": "present and in date", "taken_at": bay.clock().isoformat()}
    bay.send(bay.entry({"heater": bay.ids["heater"], "stage": "as found", **seen}))
    file = tmp_path / "visit.toml"
    file.write_bytes(bay.client.get(f"/visits/{visit}.toml").content)
    printed = " ".join(CliRunner().invoke(main, ["assess", str(file)]).stdout.split())
    case, assessment = assess_visit(bay.workshop, visit, bay.clock())
    left = unanswered(case, bay.workshop.shelf, planning=Planning())
    shelf = bay.workshop.shelf
    whole = content(case, assessment, shelf=shelf, speaker=Speaker(), photos={}, unanswered=left)
    handed = words_of(bay.client.get(f"/visits/{visit}/hand-over").text)
    front, behind = (" ".join(whole["work"][each]) for each in ("paragraphs", "steps"))
    assert f"{len(left)} that nobody may leave out were not answered; they are named further back." in front
    for face in (printed, handed, f"{front} {behind}"):
        assert Speaker().text("step.isolate.title") in told(face)
        assert Speaker().text("step.let_cool.title") not in told(face), "answered"
        assert Speaker().text("step.co_alarm_check.title") not in told(face), "read"
        assert "One of them was answered by itself." in face
        assert f"looked at by itself: {Speaker().text('step.open_cover.title')}." in face
    assert bay.client.get(f"/visits/{visit}/report.pdf").status_code == 200
