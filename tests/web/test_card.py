"""Which readings the visit's card asks for by itself, and where one goes on with it."""

from __future__ import annotations

import html
import json
import re
from datetime import timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest

from lightoff.report.content import content
from lightoff.shelf import open_shelf
from lightoff.terms.visit import Place, Visit
from lightoff.texts import Speaker
from lightoff.web.card import NOT_ON_THE_CARD, steps_of, units_for
from lightoff.work.assess_visit import assess_visit

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}
CATALOGUE = open_shelf().catalogue


def test_what_only_fault_finding_asks_for_stays_off_the_card() -> None:
    asked = {slot.key for _, slots in steps_of(CATALOGUE) for slot in slots}
    apart = {key for key, entry in CATALOGUE.entries.items() if entry.area in NOT_ON_THE_CARD}
    assert len(apart) >= 40
    assert not asked & apart


def test_the_card_asks_for_everything_else() -> None:
    asked = {slot.key for _, slots in steps_of(CATALOGUE) for slot in slots}
    assert {key for key, entry in CATALOGUE.entries.items() if entry.area not in NOT_ON_THE_CARD} == asked


def test_a_unit_is_offered_once() -> None:
    """Per cent of heat, of moisture and of a battery are one number: a list shows one of them."""
    for entry in CATALOGUE.entries.values():
        if entry.states:
            continue
        shown = [Speaker().symbol(unit) for unit in units_for(entry)]
        assert len(shown) == len(set(shown)), (entry.key, shown)
        assert entry.unit == units_for(entry)[0]


def test_an_interrupted_visit_says_who_left_off_where_and_how_long_ago(bay: Bay) -> None:
    visit = bay.start_visit()
    assert "left off" not in bay.client.get(f"/visits/{visit}").text
    bay.clock.later(minutes=1)
    at = bay.clock().isoformat()
    step = {"heater": bay.ids["heater"], "step": "look_nozzle", "outcome": "done", "at": at}
    told = {**bay.entry(step, named="step"), "author": "B. Berg"}
    assert bay.client.post("/entries", json=[told], headers=OWN).status_code == 200
    assert "left off" not in bay.client.get(f"/visits/{visit}").text  # somebody is at it
    bay.clock.later(hours=3)
    text = bay.client.get(f"/visits/{visit}").text
    assert "B. Berg left off 3 h ago: Look at the nozzle, its filter" in text
    assert 'href="#task-look_nozzle"' in text
    bay.send(bay.reading("flue_o2", "4.8", "%", basis="dry", set_number=1))
    bay.clock.later(hours=1)
    text = bay.client.get(f"/visits/{visit}").text
    assert "left off 1 h ago: O<sub>2</sub> in the exhaust</span></a>" in text
    bay.client.post(f"/visits/{visit}/close", headers=OWN)
    assert "left off" not in bay.client.get(f"/visits/{visit}").text


def test_a_visit_takes_fuel_and_place_from_the_last_one_only_where_the_button_names_them(bay: Bay) -> None:
    listed = bay.client.get("/").text
    assert "the first visit here" in listed
    assert 'name="like"' not in listed
    first = bay.start_visit()
    assert "the first visit here" not in bay.client.get("/").text
    page = bay.client.get(f"/heaters/{bay.ids['heater']}").text
    assert "as last time" not in page
    about = json.loads(_attribute(bay.client.get(f"/visits/{first}").text, "data-visit-body"))
    about |= {
        "fuel": "diesel_2",
        "place": {"name": "Kestrel Quay", "altitude_m": "4", "air_temperature_k": "280"},
    }
    bay.send(bay.entry(about, named="visit", corrects=first))
    bay.send(bay.reading("flue_o2", "5.0", "%", instrument=bay.ids["flue_gas_probe"], basis="dry"))
    bay.client.post(f"/visits/{first}/close", headers=OWN)
    page, listed = bay.client.get(f"/heaters/{bay.ids['heater']}").text, bay.client.get("/").text
    assert "Diesel No. 2, Kestrel Quay, as last time" in page
    assert "Diesel No. 2, Kestrel Quay, as last time" in listed
    assert f'name="like" value="{first}"' in listed
    bay.clock.later(days=300)
    anew, like = (_begun(bay, **said) for said in ({"another": "yes"}, {"another": "yes", "like": first}))
    assert (anew.fuel, anew.place) == ("", Place())
    assert (like.fuel, like.place) == ("diesel_2", Place(name="Kestrel Quay", altitude_m=4.0))
    assert "as last time" not in bay.client.get("/").text  # one is under way and stands on top
    foreign = _begun(bay, another="yes", like="of no such heater")
    assert (foreign.fuel, foreign.place) == ("", Place())


def test_how_oxygen_was_read_is_a_fact_of_the_meter_and_no_memory_of_another_visit(bay: Bay) -> None:
    probe = bay.ids["flue_gas_probe"]
    visit = bay.start_visit()
    bay.send(bay.reading("flue_o2", "5.0", "%", instrument=probe, basis="dry"))
    bay.send(bay.reading("flue_co2", "11.7", "%", instrument=probe, basis="measured"))
    bay.client.post(f"/visits/{visit}/close", headers=OWN)
    bay.clock.later(days=300)
    anew = _begun(bay, another="yes", like=visit).id

    def taken_for_granted() -> set[tuple[str, str]]:
        said = re.findall(r"data-own='([^']*)'", bay.client.get(f"/visits/{anew}").text)
        assert said
        return {each for own in said for each in json.loads(html.unescape(own)).items()}

    assert not taken_for_granted(), "gates rest on dry and wet: what was tapped last year says nothing today"
    about = {"instrument": probe, "kind": "flue_gas_probe", "instrument_name": "Probe", "o2_basis": "dry"}
    bay.client.post("/settings/instruments", data=about, headers=OWN)
    assert bay.workshop.book.instruments()[probe].o2_basis == "dry"
    assert taken_for_granted() == {(probe, "dry")}
    bay.clock.later(minutes=1)
    bay.client.post("/settings/instruments", data={**about, "o2_basis": "not_said"}, headers=OWN)
    assert not taken_for_granted()
    clamp = {"kind": "dc_clamp", "instrument_name": "Clamp", "o2_basis": "wet"}
    refused = bay.client.post("/settings/instruments", data=clamp, headers=OWN)
    assert refused.status_code == 422
    assert "reads no oxygen" in refused.text


def test_a_step_counts_the_readings_of_its_own_set(bay: Bay, visit: str) -> None:
    probe = bay.ids["flue_gas_probe"]
    first = {"set_number": 1, "instrument": probe}
    bay.send(
        bay.reading("flue_o2", "4.8", "%", basis="dry", **first), bay.reading("flue_co", "38", "ppm", **first)
    )
    steps = bay.client.get(f"/visits/{visit}").text.split('data-task="')
    said = {each.split('"')[0]: "2 of 5 read" in each for each in steps[1:]}
    assert said["flue_set_1"]
    assert not said["flue_set_2"]
    assert not said["flue_found"]


def _begun(bay: Bay, **said: str) -> Visit:
    answer = bay.client.post(
        f"/heaters/{bay.ids['heater']}/visits", data=said, headers=OWN, follow_redirects=False
    )
    return bay.workshop.book.visit(answer.headers["location"].rsplit("/", 1)[1])


@pytest.mark.parametrize(("zone", "ahead"), [("America%2FPhoenix", -420), ("Asia%2FKathmandu", 345)])
def test_a_visit_begun_on_a_phone_goes_by_its_clock(bay: Bay, zone: str, ahead: int) -> None:
    bay.client.cookies.set("lightoff_zone", zone)
    begun = _begun(bay)
    assert begun.utc_offset_minutes == ahead
    assert begun.day_of(bay.clock()) == (bay.clock() + timedelta(minutes=ahead)).date()


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Pago_Pago"])
def test_a_record_has_one_day_whoever_reads_it_where(bay: Bay, zone: str) -> None:
    bay.client.cookies.set("lightoff_zone", zone)
    visit = _begun(bay)
    day = Speaker().day(bay.clock().astimezone(ZoneInfo(zone)).date())
    assert day in bay.client.get(f"/visits/{visit.id}").text, "the card goes by the clock of the phone"
    for elsewhere in ("Pacific/Kiritimati", "Pacific/Pago_Pago"):
        bay.client.cookies.set("lightoff_zone", elsewhere)
        assert day in bay.client.get(f"/visits/{visit.id}/hand-over").text
        pdf = bay.client.get(f"/visits/{visit.id}/report.pdf")
        assert visit.day_of(visit.started_at).isoformat() in pdf.headers["content-disposition"]


def _attribute(text: str, name: str) -> str:
    return html.unescape(re.search(f'{name}="([^"]*)"', text)[1])  # type: ignore[index]


def test_a_suspicion_that_nobody_answered_is_told_at_hand_over_and_in_the_report(bay: Bay) -> None:
    visit = bay.start_visit()
    bay.send(bay.reading("combustion_air_temperature", "52", "degC", set_number=1))
    said = "show 52 °F? Check the unit. Nobody has answered this; the figures take it as written."
    handed = html.unescape(re.sub("<[^>]*>", "", bay.client.get(f"/visits/{visit}/hand-over").text))
    handed = handed.replace("\u00a0", " ")
    assert said in handed
    case, assessment = assess_visit(bay.workshop, visit, bay.clock())
    told = content(case, assessment, shelf=bay.workshop.shelf, speaker=Speaker(), photos={})
    assert any(said in each.replace("\u00a0", " ") for each in told["proof"]["open"]["aside"])
