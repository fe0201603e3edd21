"""Which readings the visit's card asks for by itself, and where one goes on with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lightoff.shelf import open_shelf
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


def test_a_tick_of_work_says_that_it_moves_no_part_and_leads_to_where_one_does(bay: Bay) -> None:
    visit = bay.start_visit()
    text = bay.client.get(f"/visits/{visit}").text
    assert "a tick moves no part and no stock" in text
    assert f'href="/visits/{visit}/parts"' in text
