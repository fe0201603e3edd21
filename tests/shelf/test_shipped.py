"""What ships: complete, with texts and sources, and the starting values of the verdict's rules."""

import inspect
import re
from decimal import Decimal

import pytest

from lightoff.ground import sources, units
from lightoff.ground.sources import SOURCES
from lightoff.judging.believed import GATING
from lightoff.shelf import open_shelf
from lightoff.shelf.nouns import WITHOUT_SOURCE
from lightoff.terms.shelf import Feed
from lightoff.texts.speaker import templates

SHELF = open_shelf()
ENTRIES = list(SHELF.catalogue.entries.values())

# Typed again from the rules of the verdict (docs/verdict.md), never read from the table.
STARTING_VALUES = {
    "flue_o2_floor": ("2.0", "%", "not fit"),
    "flue_o2_ceiling": ("14", "%", "not proven"),
    "co_air_free_fit": ("200", "ppm", "not fit"),
    "co_air_free_stop": ("400", "ppm", "stop"),
    "smoke_number_fit": ("1", "smoke no.", "not fit"),
    "living_space_co_fit": ("9", "ppm", "not fit"),
    "living_space_co_stop": ("35", "ppm", "stop"),
    "steady_before_reading": ("5", "min", "not proven"),
    "ran_before_joints_1": ("1", "min", "not proven"),
    "ran_before_joints_10": ("10", "min", "not proven"),
    "sets_apart": ("60", "s", "not proven"),
    "test_window": ("60", "min", "not proven"),
    "fresh_air_o2": ("20.9", "%", "not proven"),
    "fresh_air_co": ("3", "ppm", "not proven"),
    "calibration_age": ("365", "d", "not proven"),
    "trials_before_looking": ("2", "count", "stop"),
}
CLASSES = {
    ("flue_gas_probe", "flue_o2"): ("0.3", "0", "%"),
    ("flue_gas_probe", "flue_co2"): ("0.3", "0.05", "%"),
    ("flue_gas_probe", "flue_co"): ("10", "0.05", "ppm"),
    ("flue_gas_probe", "stack_gas_temperature"): ("2", "0.01", "degC"),
    ("living_space_co_meter", "living_space_co_running"): ("2", "0.05", "ppm"),
}


@pytest.mark.parametrize("key", STARTING_VALUES)
def test_starting_values_of_the_rules(key: str) -> None:
    value, unit, effect = STARTING_VALUES[key]
    row = SHELF.limits.rows[key]
    assert (row.value, row.unit, row.effect) == (Decimal(value), unit, effect)


@pytest.mark.parametrize(("kind", "key"), CLASSES)
def test_accuracies_of_the_rules(kind: str, key: str) -> None:
    absolute, relative, unit = CLASSES[kind, key]
    accuracy = SHELF.catalogue.classes[kind].accuracies[key]
    assert (accuracy.absolute, accuracy.relative, accuracy.unit) == (
        Decimal(absolute),
        Decimal(relative),
        unit,
    )


def test_every_stop_names_its_object() -> None:
    assert all(row.stops for row in SHELF.limits.rows.values() if row.effect == "stop")


def test_legal_ceilings_speak_of_vehicles_only() -> None:
    legal = [row for row in SHELF.limits.rows.values() if row.basis == "legal"]
    assert legal
    assert all(set(row.kinds) <= {"coach", "workshop"} and row.kinds for row in legal)
    assert not any(row.speaks_to("boat") or row.speaks_to("cabin") for row in legal)


def test_practice_is_stricter_than_the_legal_ceiling() -> None:
    for quantity in ("co_air_free", "smoke_number", "living_space_co_rise"):
        row = SHELF.limits.strictest(quantity, "not fit", kind="coach")
        assert row is not None
        assert row.basis == "practice"


@pytest.mark.parametrize("row", SHELF.limits.rows.values(), ids=lambda row: row.key)
def test_every_limit_has_a_source(row: object) -> None:
    assert row.source in SOURCES or row.source in WITHOUT_SOURCE  # type: ignore[attr-defined]


def test_at_least_forty_five_things_to_read_see_hear_or_smell() -> None:
    assert len(ENTRIES) >= 45
    areas = {entry.area for entry in ENTRIES}
    assert {"burn", "safety", "light-off", "supply", "warm-up", "firing rate", "circuit"} <= areas
    assert sum(bool(entry.states) for entry in ENTRIES) >= 20


def test_gates_read_only_what_the_catalogue_holds() -> None:
    assert set(SHELF.catalogue.entries) >= GATING


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.key)
def test_every_reading_can_be_said_and_taken(entry: object) -> None:
    texts = templates("en")
    key = entry.key  # type: ignore[attr-defined]
    assert len(texts[f"reading.{key}"]) <= (34 if entry.area not in ("trial", "repair") else 60)  # type: ignore[attr-defined]
    assert texts[f"reading_how.{key}"].endswith(".")
    for state in entry.states:  # type: ignore[attr-defined]
        assert f"state.{state.replace(' ', '_')}" in texts
    if entry.caution:  # type: ignore[attr-defined]
        assert f"caution.{entry.caution}" in texts  # type: ignore[attr-defined]
    for kind in entry.classes:  # type: ignore[attr-defined]
        assert kind in SHELF.catalogue.classes


@pytest.mark.parametrize("entry", [e for e in ENTRIES if not e.states], ids=lambda entry: entry.key)
def test_every_number_has_a_unit_and_a_meter_that_reads_it(entry: object) -> None:
    assert entry.unit in units.units_of(entry.dimension)  # type: ignore[attr-defined]
    for kind in entry.classes:  # type: ignore[attr-defined]
        if kind != "eyes":
            assert entry.key in SHELF.catalogue.classes[kind].accuracies  # type: ignore[attr-defined]


def test_opening_fuel_or_exhaust_carries_a_caution_or_needs_none() -> None:
    bare = [
        entry.key for entry in ENTRIES if entry.opens in ("fuel", "electric", "coolant") and not entry.caution
    ]
    assert not bare


def test_the_look_of_the_flame_and_a_silent_alarm_reach_no_gate() -> None:
    assert not GATING & {"flame_look", "co_alarm", "burner_sound", "smoke_colour"}


def test_fuels_and_blends() -> None:
    assert set(SHELF.fuels) == {
        "diesel_1", "diesel_2", "kerosene", "heating_oil", "b5", "b20", "b100", "winter_50_50",
    }  # fmt: skip
    assert all(fuel.cloud_point_caution for fuel in SHELF.fuels.values())


def test_four_invented_sheets_that_differ() -> None:
    sheets = list(SHELF.sheets.values())
    assert len(sheets) == 4
    assert all(sheet.invented for sheet in sheets)
    assert [round(s.heat_output_w / 1000) for s in sorted(sheets, key=lambda s: s.heat_output_w)] == [
        6,
        9,
        12,
        16,
    ]
    for one in sheets:
        for other in sheets:
            traits = [(s.feed, s.fastening, s.igniter_holder, s.window, s.inlet, s.pre_purge_s > 0,
                       s.after_run_s, s.supply_v) for s in (one, other)]  # fmt: skip
            assert one is other or sum(a != b for a, b in zip(*traits, strict=True)) >= 2


@pytest.mark.parametrize("sheet", SHELF.sheets.values(), ids=lambda sheet: sheet.key)
def test_a_sheet_burns_what_its_output_needs(sheet: object) -> None:
    heat = sheet.fuel_flow_kg_s * SHELF.fuels["diesel_2"].net_heating_value_j_kg  # type: ignore[attr-defined]
    assert 0.8 < sheet.heat_output_w / heat < 0.92  # type: ignore[attr-defined]
    assert sheet.feed in (Feed.METERING_PUMP, Feed.SIPHON)  # type: ignore[attr-defined]


def test_every_state_of_a_limit_can_be_seen() -> None:
    for row in SHELF.limits.rows.values():
        if row.states:
            assert set(row.states) < set(SHELF.catalogue.entries[row.quantity].states), row.key


def test_no_key_of_the_sources_stands_twice() -> None:
    text = inspect.getsource(sources)
    keys = re.findall(r'^        "(\w+)": _source\(', text, flags=re.MULTILINE)
    assert len(keys) == len(set(keys)) == len(SOURCES)


def test_a_shop_can_only_start_from_what_ships() -> None:
    assert not SHELF.problems
    assert open_shelf().sha256 == SHELF.sha256
