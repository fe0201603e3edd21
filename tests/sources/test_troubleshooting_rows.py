"""Rows of government manuals in our readings and faults: every name exists, every cause is found."""

import tomllib
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from lightoff.faultfinding import Bank, Evidence, bank, posterior
from lightoff.faultfinding.posterior import UNKNOWN_KEY
from lightoff.ground import units
from lightoff.plant.conditions import Conditions
from lightoff.plant.number import Number, Side
from lightoff.plant.quantities import QUANTITIES
from lightoff.shelf import open_shelf
from lightoff.shelf.faults import WORK

MAPPING = tomllib.loads(
    (Path(__file__).parent / "troubleshooting_rows.toml").read_text(encoding="utf-8"), parse_float=Decimal
)
SHELF = open_shelf()
ENTRIES = SHELF.catalogue.entries
APPLY = [*MAPPING["row"], *MAPPING["remembered"]]
HOW_SEEN = ("seen in an online copy", "second-hand, as quoted in a forum")


def row_id(row: Mapping[str, Any]) -> str:
    return f"{row['number']}-{row['faults'][0] if 'faults' in row else row['why']}"


def test_every_row_is_mapped_or_left_out_once() -> None:
    numbers = [row["number"] for row in (*APPLY, *MAPPING["left_out"])]
    assert sorted(numbers) == list(range(1, 73))
    assert len(MAPPING["row"]) > len(MAPPING["left_out"])


def test_the_heater_type_ships() -> None:
    assert MAPPING["sheet"] in SHELF.sheets


@pytest.mark.parametrize("row", APPLY, ids=row_id)
def test_every_reading_and_state_stands_in_the_catalogue(row: Mapping[str, Any]) -> None:
    assert row["says"]
    assert row["finds"]
    assert not row["says"].keys() & row["finds"].keys()
    for key, found in (*row["says"].items(), *row["finds"].items()):
        entry = ENTRIES[key]
        if entry.states:
            assert found in entry.states, key
            continue
        assert set(found) <= {"value", "unit", "at_top"}
        assert found["unit"] == entry.unit, key
        assert entry.possible_low is not None
        assert entry.possible_high is not None
        assert entry.possible_low <= Decimal(found["value"]) <= entry.possible_high, key


@pytest.mark.parametrize("row", APPLY, ids=row_id)
def test_the_faults_stand_on_the_shelf_and_the_test_speaks_to_them(row: Mapping[str, Any]) -> None:
    faults = [SHELF.faults[key] for key in row["faults"]]
    assert set(row["finds"]) & {key for fault in faults for key in (*fault.proves, *fault.shows)}
    assert set(row.get("touched", [])) <= set(WORK)


@pytest.mark.parametrize("row", APPLY, ids=row_id)
def test_the_test_finds_something_out_of_order(row: Mapping[str, Any]) -> None:
    looks = {key: found for key, found in row["finds"].items() if ENTRIES[key].states}
    assert len(looks) < len(row["finds"]) or any(ENTRIES[k].states[0] != found for k, found in looks.items())


def test_each_source_is_named_and_what_is_remembered_stands_apart() -> None:
    for row in MAPPING["row"]:
        assert len(row["source"].split()) > 2
        assert row["seen"] in HOW_SEEN
    assert not [row for row in MAPPING["remembered"] if "source" in row or "seen" in row]


def test_what_is_left_out_has_its_reason() -> None:
    assert {row["why"] for row in MAPPING["left_out"]} == set(MAPPING["reasons"])


@pytest.fixture(scope="module")
def heater() -> Bank:
    """The heater type that the rows are put to, near the sea at 15 degC."""
    fuel = SHELF.fuels["diesel_2"]
    return bank(
        sheet=SHELF.sheets[MAPPING["sheet"]],
        conditions=Conditions(fuel=fuel, rated_fuel=fuel),
        faults=SHELF.faults,
        trials=SHELF.trials,
        catalogue=SHELF.catalogue,
    )


def evidence(row: Mapping[str, Any]) -> Evidence:
    """The row's symptom, what was worked on last, and its test's result."""
    numbers, states = {}, {}
    for key, found in (*row["says"].items(), *row["finds"].items()):
        if ENTRIES[key].states:
            states[key] = sure(key, found)
        else:
            side = Side.ABOVE if found.get("at_top") else Side.EXACT
            value = units.to_si(Decimal(found["value"]), found["unit"])
            numbers[key] = Number(value=value, side=side)
    for work in row.get("touched", []):
        states["last_work"] = sure("last_work", work.replace("_", " "))
    if {"coolant_temperature_start", "coolant_temperature_end", "warm_up_time"} <= set(numbers):
        rise = numbers["coolant_temperature_end"].value - numbers["coolant_temperature_start"].value
        numbers["warm_up_rate"] = Number(value=rise / numbers["warm_up_time"].value)
    told = {key: number for key, number in numbers.items() if key in QUANTITIES}
    return Evidence(numbers=told, states=states, trials={}, repairs={})


def sure(reading: str, state: str) -> dict[str, float]:
    states = ENTRIES[reading].states
    assert state in states, reading
    return {each: float(each == state) for each in states}


def leading(heater: Bank, row: Mapping[str, Any]) -> list[str]:
    """The three likeliest faults, given the row's symptom and what its test found."""
    chances = posterior(heater, evidence(row)).faults()
    return sorted((key for key in chances if key != UNKNOWN_KEY), key=lambda key: -chances[key])[:3]


@pytest.mark.parametrize("row", MAPPING["row"], ids=row_id)
def test_the_cause_is_among_the_first_three(heater: Bank, row: Mapping[str, Any]) -> None:
    assert set(leading(heater, row)) & set(row["faults"]), leading(heater, row)


@pytest.mark.parametrize("row", MAPPING["remembered"], ids=row_id)
def test_the_remembered_cause_is_among_the_first_three(heater: Bank, row: Mapping[str, Any]) -> None:
    """Trade practice without a source: it proves less."""
    assert set(leading(heater, row)) & set(row["faults"]), leading(heater, row)
