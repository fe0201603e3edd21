"""Which readings the visit's card asks for by itself, and where one goes on with it."""

from __future__ import annotations

import html
import json
import re
from typing import TYPE_CHECKING

from lightoff.shelf import open_shelf
from lightoff.terms.visit import Place, Visit
from lightoff.texts import Speaker
from lightoff.web.card import NOT_ON_THE_CARD, steps_of, units_for

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
    bay.client.post(f"/visits/{visit}/close", headers=OWN)
    assert "left off" not in bay.client.get(f"/visits/{visit}").text


def test_a_visit_takes_fuel_and_place_from_the_last_one_only_where_the_button_names_them(bay: Bay) -> None:
    first = bay.start_visit()
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
    page = bay.client.get(f"/heaters/{bay.ids['heater']}").text
    assert "Diesel No. 2, Kestrel Quay, as last time" in page
    bay.clock.later(days=300)
    anew, like = (_begun(bay, **said) for said in ({"another": "yes"}, {"another": "yes", "like": first}))
    assert (anew.fuel, anew.place) == ("", Place())
    assert (like.fuel, like.place) == ("diesel_2", Place(name="Kestrel Quay", altitude_m=4.0))
    foreign = _begun(bay, another="yes", like="of no such heater")
    assert (foreign.fuel, foreign.place) == ("", Place())
    # How a meter comes by a reading is its own way, and said of no other meter.
    usual = re.findall(r"data-usual='([^']*)'", bay.client.get(f"/visits/{like.id}").text)
    assert {each for said in usual for each in json.loads(html.unescape(said)).items()} == {
        (bay.ids["flue_gas_probe"], "dry")
    }


def _begun(bay: Bay, **said: str) -> Visit:
    answer = bay.client.post(
        f"/heaters/{bay.ids['heater']}/visits", data=said, headers=OWN, follow_redirects=False
    )
    return bay.workshop.book.visit(answer.headers["location"].rsplit("/", 1)[1])


def _attribute(text: str, name: str) -> str:
    return html.unescape(re.search(f'{name}="([^"]*)"', text)[1])  # type: ignore[index]
