"""Rows of government manuals in this project's readings and faults: every name of the mapping exists."""

import tomllib
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

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
