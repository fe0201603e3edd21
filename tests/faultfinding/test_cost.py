"""What steps cost: minutes, what a path owes once, which repairs are one and the same."""

import pytest
from making import SHELF, evidence

from lightoff.faultfinding.cost import (
    CONFIRM_MINUTES,
    opened_paths,
    read_along,
    reading_minutes,
    reading_path,
    repair_key,
    repair_minutes,
    swapped_in,
)
from lightoff.faultfinding.evidence import Outcome
from lightoff.plant.quantities import QUANTITIES


def key(fault: str) -> str:
    return repair_key(SHELF.faults[fault])


@pytest.mark.parametrize(
    "together",
    [
        ("igniter_open", "igniter_weak", "igniter_cracked"),
        ("nozzle_worn", "nozzle_too_small", "nozzle_partly_plugged"),
        ("fan_worn", "fan_dead"),
        ("air_set_low", "air_set_high", "set_for_lower_place"),
    ],
)
def test_one_repair_mends_all_that_a_part_or_the_setting_can_have(together: tuple[str, ...]) -> None:
    assert len({key(fault) for fault in together}) == 1


@pytest.mark.parametrize(
    "apart",
    [
        ("igniter_weak", "igniter_on_edge", "igniter_connector_burnt"),
        ("fuse_blown", "circulation_pump_unpowered"),  # two fuses
        ("fuel_filter_restricted", "water_in_fuel", "tank_sludge"),  # a filter is not all that these take
        ("feed_wire_broken", "supply_cable_poor"),
    ],
)
def test_repairs_that_only_share_a_word_are_apart(apart: tuple[str, ...]) -> None:
    assert len({key(fault) for fault in apart}) == len(apart)


def test_a_repair_takes_its_minutes_and_a_start_and_no_parts() -> None:
    igniter = SHELF.faults["igniter_weak"]
    assert repair_minutes(igniter) == igniter.minutes + CONFIRM_MINUTES


def test_readings_taken_together_take_as_long_as_the_longest_and_open_one_path() -> None:
    entries = SHELF.catalogue.entries
    assert reading_minutes(SHELF.catalogue, "fuel_flow") == entries["fuel_time"].minutes
    assert reading_path(SHELF.catalogue, "fuel_flow") == "fuel"
    assert reading_path(SHELF.catalogue, "flame_look") == ""


def test_a_probe_in_the_pipe_reads_all_that_it_reads() -> None:
    nothing = evidence()
    gas = {"flue_o2", "flue_co2", "flue_co", "stack_gas_temperature"}
    for each in gas:
        assert set(read_along(SHELF.catalogue, each, nothing)) == gas - {each}
    left = read_along(SHELF.catalogue, "flue_o2", evidence(numbers={"flue_co": 5e-5}))
    assert set(left) == {"flue_co2", "stack_gas_temperature"}


def test_what_is_read_along_needs_no_start_that_the_reading_itself_does_not() -> None:
    nothing = evidence()
    assert read_along(SHELF.catalogue, "supply_voltage_igniter", nothing) == ("supply_voltage_rest",)
    assert read_along(SHELF.catalogue, "supply_voltage_rest", nothing) == ()


def test_what_is_read_along_opens_nothing_more_and_takes_no_other_instrument() -> None:
    entries, nothing = SHELF.catalogue.entries, evidence()
    for key in QUANTITIES:
        for other in read_along(SHELF.catalogue, key, nothing):
            assert entries[other].opens == entries[key].opens
            assert entries[other].classes[0] == entries[key].classes[0]
    assert read_along(SHELF.catalogue, "fuel_flow", nothing) == ()


def test_what_was_read_tried_or_mended_has_opened_its_path() -> None:
    told = evidence(
        numbers={"fuel_flow": 1e-4},
        states={"flame_look": "dull"},
        trials={"good_battery": Outcome.NO_CHANGE, "known_good_igniter": Outcome.NOT_DONE},
        repairs={"coolant_low": Outcome.NO_CHANGE, "exhaust_blocked": Outcome.NOT_DONE},
    )
    assert opened_paths(SHELF.catalogue, SHELF.faults, SHELF.trials, told) - {""} == {
        "fuel",
        "electric",
        "coolant",
    }


def test_a_good_part_stays_in_and_a_can_or_a_battery_does_not() -> None:
    faults, trials = SHELF.faults, SHELF.trials
    assert swapped_in(trials["known_good_igniter"], faults) == {"renew igniter"}
    assert "renew fuel_filter" in swapped_in(trials["known_good_fuel_filter"], faults)
    assert swapped_in(trials["good_fuel_can"], faults) == frozenset()
    assert swapped_in(trials["good_battery"], faults) == frozenset()
