"""The reading that would help most is one that the shop can take, and the most pressing of those."""

from dataclasses import replace
from typing import Any

import pytest
from cases import METER, PROBE, PUMP, Draft, at, good

from lightoff.judging.assess import assess
from lightoff.judging.assessment import Assessment, Verdict
from lightoff.judging.believed import GATING
from lightoff.judging.helping import ORDER
from lightoff.shelf import open_shelf
from lightoff.terms.visit import EventKind
from lightoff.texts import Speaker

SHELF = open_shelf()
KITS: dict[str, tuple[str, ...]] = {
    "nothing but eyes and a watch": (),
    "kit one": (METER,),
    "kit two": (METER, PUMP),
    "kit three": (METER, PUMP, PROBE),
    "a probe and nothing else": (PROBE,),
    "a smoke pump and nothing else": (PUMP,),
}
# What each class of instrument opens, written down apart from the catalogue.
READ_WITH = {
    METER: {"living_space_co_running", "living_space_co_off", "outdoor_co", "co_response"},
    PUMP: {"smoke_number", "smoke_spot_look"},
    PROBE: {
        *{"flue_o2", "flue_co2", "flue_co", "co_response", "sampling_line", "probe_zero"},
        *{"fresh_air_o2_before", "fresh_air_co_before", "fresh_air_o2_after", "fresh_air_co_after"},
    },
}
BY_EYE = {
    *{"exhaust_path", "inlet_path", "fuel_joints_1_min", "fuel_joints_10_min"},
    *{"light_off", "after_run", "chamber_look", "trials_without_flame", "time_to_light"},
}


def judged(draft: Draft) -> Assessment:
    facts: dict[str, Any] = {"limits": SHELF.limits, "catalogue": SHELF.catalogue, "now": draft.now}
    sheet, fuel = SHELF.sheets["generic_9_kw"], SHELF.fuels["diesel_2"]
    return assess(draft.case(), sheet=sheet, fuel=fuel, **facts)


def shop(kit: str, draft: Draft | None = None) -> Draft:
    """A visit of a shop that owns no more than this kit, and has read nothing that it cannot read."""
    draft = draft or good()
    mine = KITS[kit]
    can = BY_EYE.union(*(READ_WITH[each] for each in mine))
    draft.readings = [each for each in draft.readings if each.key in can and each.instrument in (*mine, None)]
    draft.instruments = {key: each for key, each in draft.instruments.items() if key in mine}
    return draft


@pytest.mark.parametrize("kit", KITS)
def test_only_what_the_kit_can_take_is_asked_for(kit: str) -> None:
    can = BY_EYE.union(*(READ_WITH[each] for each in KITS[kit]))
    empty = shop(kit)
    empty.readings = []
    asked = judged(empty).most_useful
    assert asked in can
    for key in GATING:
        assert judged(shop(kit).drop(key)).most_useful in {*can, None}, key


FIRST_ASKED = {
    "nothing but eyes and a watch": "exhaust_path",
    "kit one": "living_space_co_running",
    "kit two": "living_space_co_running",
    "kit three": "living_space_co_running",
    "a probe and nothing else": "exhaust_path",
    "a smoke pump and nothing else": "exhaust_path",
}
# The order in which an empty visit is filled when one always reads what is asked for.
FILLED = {
    "nothing but eyes and a watch": [
        *["exhaust_path", "fuel_joints_1_min", "fuel_joints_10_min", "inlet_path", "light_off"],
        "after_run",
    ],
    "kit two": [
        *["living_space_co_running", "living_space_co_off", "outdoor_co", "exhaust_path"],
        *["fuel_joints_1_min", "fuel_joints_10_min", "smoke_number", "smoke_spot_look", "inlet_path"],
        *["light_off", "after_run"],
    ],
}


@pytest.mark.parametrize("kit", FIRST_ASKED)
def test_the_most_pressing_is_asked_first(kit: str) -> None:
    empty = shop(kit)
    empty.readings = []
    assert judged(empty).most_useful == FIRST_ASKED[kit]


@pytest.mark.parametrize("kit", FILLED)
def test_who_reads_what_is_asked_for_comes_to_an_end(kit: str) -> None:
    whole, draft = shop(kit), shop(kit)
    draft.readings = []
    asked = []
    while (key := judged(draft).most_useful) is not None and len(asked) < 40:
        asked.append(key)
        draft.readings += [each for each in whole.readings if each.key == key]
    assert asked == FILLED[kit]


def test_what_no_instrument_of_the_shop_can_read_is_named_as_instruments() -> None:
    found = judged(shop("kit one"))
    assert (found.verdict.verdict, found.most_useful) == (Verdict.NOT_PROVEN, None)
    assert Speaker().say(found.paragraph[-1]) == (
        "What is still open takes instruments that this shop does not list: flue-gas probe and smoke pump."
    )
    assert Speaker().say(judged(shop("kit two")).paragraph[-1]).endswith("flue-gas probe.")


def test_a_retired_instrument_is_not_owned() -> None:
    draft = shop("kit two")
    draft.drop("living_space_co_running")
    assert judged(draft).most_useful == "living_space_co_running"
    draft.instruments[METER] = replace(draft.instruments[METER], retired=True)
    assert judged(draft).most_useful not in READ_WITH[METER]


def test_a_wet_chamber_comes_before_all_else() -> None:
    draft = good().drop("living_space_co_running")
    draft.edit("trials_without_flame", shown="2 count").drop("light_off")
    assert judged(draft).most_useful == "chamber_look"


def test_what_nobody_has_read_comes_before_a_second_set() -> None:
    draft = good().drop("flue_o2", nth=2).drop("after_run")
    assert judged(draft).most_useful == "after_run"
    assert judged(good().drop("flue_o2", nth=2)).most_useful == "flue_o2"


DANGERS: dict[str, dict[str, Any]] = {
    "living_space_co_running": {"shown": "60 ppm"},
    "exhaust_path": {"state": "blocked"},
    "flue_co": {"shown": "900 ppm"},
}


@pytest.mark.parametrize("key", DANGERS)
def test_while_a_danger_stands_nothing_is_asked_for(key: str) -> None:
    draft = good().edit(key, **DANGERS[key]).drop("smoke_number").drop("light_off")
    found = judged(draft)
    assert found.verdict.verdict is Verdict.STOP
    assert found.most_useful is None
    steps = [step.key for area in found.areas for step in area.next_steps]
    assert "judging.read_next" not in steps
    assert any(step.startswith("judging.stop_") for step in steps)


def test_once_it_was_worked_on_the_test_goes_on() -> None:
    draft = good().edit("exhaust_path", state="blocked").drop("smoke_number")
    draft.happen(EventKind.OPENED, 100)
    found = judged(draft)
    assert found.verdict.verdict is Verdict.STOP
    assert found.most_useful == "smoke_number"
    timeless = draft.edit("exhaust_path", taken_at=None)
    assert judged(timeless).most_useful is None
    other = good().edit("exhaust_path", state="blocked", taken_at=at(100)).drop("smoke_number")
    other.happen(EventKind.OPENED, 110, heater="heater-2")
    assert judged(other).most_useful is None


def test_every_reading_that_a_gate_can_ask_for_has_its_place() -> None:
    assert set(ORDER) >= GATING - {"co_response"}
    assert set(ORDER) <= set(SHELF.catalogue.entries)
    assert len(ORDER) == len(set(ORDER))


def test_the_catalogue_says_what_the_eyes_need_besides() -> None:
    for kind, keys in READ_WITH.items():
        for key in keys:
            entry = SHELF.catalogue.entries[key]
            owned = {METER: "living_space_co_meter", PUMP: "smoke_pump", PROBE: "flue_gas_probe"}[kind]
            assert entry.can_be_taken_with({owned}), key
            assert not entry.can_be_taken_with(set()), key
    assert all(SHELF.catalogue.entries[key].can_be_taken_with(set()) for key in BY_EYE)
