"""What the trade knows of such heaters, asked of the model with the faults of the shelf.

Common practice, no source, unless a line says otherwise.
"""

from dataclasses import replace

import numpy as np
import pytest
from one_heater import DIESEL, DRY, PUMPED, SHELF, SIPHONED, USUAL, fault_row, likely, number, seen

from lightoff.heater.fuel_feed import LINE_VOLUME_M3
from lightoff.heater.rating import rate
from lightoff.heater.sequence import BLOWN_OFF_S
from lightoff.physics.altitude import METERING_PUMP, SIPHON, FeedLaw, Place, air_ratio_change
from lightoff.plant.model import Prediction, predict
from lightoff.plant.parameters import COLUMN, PARAMETERS, SPREADS, spreads
from lightoff.terms.shelf import Feed, Sheet

PASS = replace(DRY, altitude_m=1500.0, air_temperature_k=303.15, relative_humidity_fraction=0.3)


def with_fault(key: str, severity: float = 1.0, sheet: Sheet = PUMPED) -> Prediction:
    """The sound heater in row 0, the faulty one in row 1."""
    return seen({}, fault_row(key, severity), sheet=sheet)


def moved(found: Prediction, key: str) -> float:
    """How many times the number is what it was."""
    return number(found, key, 1) / number(found, key, 0)


def set_to(sheet: Sheet, air_ratio: float) -> float:
    """The shift of the air setting that brings this heater to an air ratio in its rated place."""
    return float(np.log(air_ratio / seen(sheet=sheet, conditions=DRY).air_ratio[0]))


def test_a_metered_pump_set_at_1_35_falls_to_1_05_on_a_hot_pass_and_a_siphon_falls_less() -> None:
    ratios = {}
    for sheet in (PUMPED, SIPHONED):
        setting = {"air_setting": set_to(sheet, 1.35)}
        ratios[sheet.feed] = float(seen(setting, sheet=sheet, conditions=PASS).air_ratio[0])
    assert ratios[Feed.METERING_PUMP] == pytest.approx(1.05, abs=0.02)
    assert ratios[Feed.METERING_PUMP] + 0.1 < ratios[Feed.SIPHON] < 1.3


@pytest.mark.parametrize(("sheet", "law"), [(PUMPED, METERING_PUMP), (SIPHONED, SIPHON)])
@pytest.mark.parametrize("altitude_m", [500.0, 1500.0, 2500.0, 4000.0])
def test_altitude_is_that_of_the_physics_of_altitude(sheet: Sheet, law: FeedLaw, altitude_m: float) -> None:
    """Two ways to one figure: the chain's and the closed law's. They part by the air that fuel gives up."""
    there = replace(DRY, altitude_m=altitude_m, air_temperature_k=293.15)
    change = float(
        air_ratio_change(
            here=Place.at_altitude(0.0, air_temperature_k=288.15),
            there=Place.at_altitude(altitude_m, air_temperature_k=293.15),
            law=law,
        )
    )
    chain = seen(sheet=sheet, conditions=there).air_ratio[0] / seen(sheet=sheet, conditions=DRY).air_ratio[0]
    assert chain == pytest.approx(change, rel=0.015)


def test_an_unknown_feed_is_a_band_between_both_never_one_answer() -> None:
    nobody_knows = replace(PUMPED, feed=Feed.UNKNOWN)
    wide = spreads(nobody_knows)[COLUMN["feed_law"]]
    assert wide > 10.0 * SPREADS[COLUMN["feed_law"]]
    low, middle, high = seen(
        {"feed_law": -2.0 * wide}, {}, {"feed_law": 2.0 * wide}, sheet=nobody_knows, conditions=PASS
    ).air_ratio
    assert low == pytest.approx(seen(conditions=PASS).air_ratio[0], rel=1e-6)  # a pump for certain
    assert high - low > 0.1
    assert low < middle < high


def test_the_voltage_example() -> None:
    """From 13.6 to 11.5 V at the battery the air ratio falls from 1.35 to about 1.14."""
    setting = {"air_setting": set_to(PUMPED, 1.35)}
    rated = seen(conditions=DRY)
    full = number(rated, "battery_voltage_rest")
    low = seen(setting, conditions=replace(DRY, rest_v=full * 11.5 / 13.6)).air_ratio[0]
    assert low == pytest.approx(1.14, abs=0.02)


def test_after_the_switch_goes_off_the_fan_runs_on_for_about_two_minutes() -> None:
    for sheet in SHELF.sheets.values():
        found = seen(sheet=sheet)
        assert 100.0 <= number(found, "after_run_time") <= 200.0
        assert likely(found, "after_run") == "ran its length"
    assert likely(with_fault("fan_dead"), "after_run", 1) == "did not run"


def test_a_healthy_flame_is_bright_with_no_smoke_to_be_seen() -> None:
    for sheet in SHELF.sheets.values():
        found = seen(sheet=sheet)
        assert likely(found, "flame_look") == "bright and steady"
        assert likely(found, "smoke_colour") == "none"
        assert likely(found, "owner_says") == "runs well"


def test_a_filter_fitted_without_being_filled_makes_the_flame_die_after_a_minute_or_two() -> None:
    found = with_fault("fuel_filter_not_primed")
    assert found.lit[1] > 0.9
    assert found.running[1] < 0.2
    assert 30.0 < number(found, "run_time_before_stop", 1) < 300.0
    assert likely(found, "stop_step", 1) == "running"
    assert likely(found, "air_bubbles", 1) == "many"
    assert likely(found, "owner_says", 1) == "lights then dies"


def test_a_leaking_ring_makes_the_flame_pulse_with_no_bubble_before_the_pump() -> None:
    ring, joint = with_fault("nozzle_ring_leaking"), with_fault("suction_air_leak", 0.4)
    for found, bubbles in ((ring, "none"), (joint, "many")):
        assert likely(found, "flame_look", 1) == "pulsing"
        assert likely(found, "air_bubbles", 1) == bubbles


SIPHONS = [key for key, sheet in SHELF.sheets.items() if sheet.feed is Feed.SIPHON]


@pytest.mark.parametrize("sheet", SIPHONS)
@pytest.mark.parametrize("key", ["fuel_filter_restricted", "fuel_line_squeezed", "lift_too_high"])
def test_a_siphon_that_is_held_back_burns_what_its_line_holds_before_it_dies(key: str, sheet: str) -> None:
    line_s = LINE_VOLUME_M3 / rate(SHELF.sheets[sheet], DIESEL).fuel_volume_m3_s
    found = [
        seen(fault_row(key, severity), sheet=SHELF.sheets[sheet]) for severity in np.linspace(0.0, 1.0, 21)
    ]
    dying = [each for each in found if each.running[0] < 0.7 * each.lit[0]]
    for each in dying:
        assert 0.8 * line_s < number(each, "run_time_before_stop") < 1.1 * line_s
        assert each.lit[0] > 0.4, "what stands in the line lights before it is missed"
    assert dying or key == "lift_too_high"
    times = [number(each, "run_time_before_stop") for each in found if each.lit[0] > 0.5]
    # Once all of its time is the line's, air that comes out of the fuel takes a little off it.
    shortened = np.diff(times) < -0.1 * line_s
    assert not np.any(shortened), "the more it is held back, the more of its time is the line's"


@pytest.mark.parametrize("sheet", SHELF.sheets)
def test_a_flame_that_is_set_too_lean_is_out_within_half_a_minute(sheet: str) -> None:
    found = seen({"air_setting": set_to(SHELF.sheets[sheet], 2.9)}, sheet=SHELF.sheets[sheet])
    assert found.running[0] < 0.1 * found.lit[0]
    assert number(found, "run_time_before_stop") < 1.1 * BLOWN_OFF_S


def test_an_igniter_on_edge_glows_as_ever_and_lights_badly() -> None:
    found = with_fault("igniter_on_edge", 0.6)
    assert moved(found, "igniter_current") == pytest.approx(1.0)
    assert found.light_chance[1] < 0.7 * found.light_chance[0]
    assert moved(found, "time_to_light") > 1.1


def test_an_inlet_tube_standing_up_chokes_the_air_so_that_it_smokes() -> None:
    found = with_fault("inlet_tube_unseated")
    assert found.air_ratio[1] < 1.05
    assert number(found, "smoke_number", 1) > 3.0
    assert number(found, "flue_co", 1) > 1000e-6
    assert number(found, "exhaust_back_pressure", 1) < number(found, "exhaust_back_pressure", 0)


def test_a_pin_pushed_back_gives_no_contact_though_the_igniter_measures_well() -> None:
    found = with_fault("igniter_pin_pushed_back")
    assert number(found, "igniter_current", 1) < 0.3
    assert moved(found, "igniter_resistance") == pytest.approx(1.0)
    assert number(found, "igniter_voltage_at_lead", 1) < 0.1 * number(found, "supply_voltage_igniter", 1)
    assert found.lit[1] < 0.01
    assert likely(found, "smoke_colour", 1) == "white"


def test_an_open_igniter_shows_no_current_and_infinite_ohms_and_full_voltage() -> None:
    found = with_fault("igniter_open")
    assert number(found, "igniter_current", 1) < 0.01
    assert moved(found, "igniter_resistance") > 1e3
    assert moved(found, "igniter_voltage_at_lead") > 1.0
    assert likely(found, "chamber_look", 1) == "wet"


@pytest.mark.parametrize(
    ("key", "pressure", "current"),
    [
        ("compressor_filter_plugged", "low", "low"),
        ("compressor_weak", "low", "same"),
        ("nozzle_partly_plugged", "high", "high"),
        ("air_line_leaking", "low", "low"),
    ],
)
def test_pressure_and_current_of_the_compressor_tell_causes_apart(
    key: str, pressure: str, current: str
) -> None:
    found = with_fault(key)

    def word(key: str) -> str:
        times = moved(found, key)
        return "low" if times < 0.85 else "high" if times > 1.15 else "same"

    assert word("atomising_air_pressure") == pressure
    assert word("compressor_current") == current
    assert moved(found, "flue_o2") > 0.95  # the air ratio does not fall: it smokes at its usual oxygen


@pytest.mark.parametrize("key", ["ground_corroded", "supply_cable_poor", "battery_weak"])
def test_a_poor_supply_shows_under_the_igniters_load(key: str) -> None:
    found = with_fault(key, 0.6, sheet=SHELF.sheets["generic_9_kw"])
    rest = number(found, "supply_voltage_rest", 0) - number(found, "supply_voltage_rest", 1)
    loaded = number(found, "supply_voltage_igniter", 0) - number(found, "supply_voltage_igniter", 1)
    assert loaded > 0.3
    assert loaded > 1.2 * rest
    assert (moved(found, "ground_drop") > 3.0) == (key == "ground_corroded")


def test_soot_in_the_jacket_raises_the_stack_at_the_same_oxygen() -> None:
    found = with_fault("jacket_sooted", 0.3)
    assert number(found, "stack_gas_temperature", 1) - number(found, "stack_gas_temperature", 0) > 50.0
    assert moved(found, "flue_o2") == pytest.approx(1.0)


def test_a_low_sensor_lets_the_coolant_boil_and_a_high_one_keeps_it_cool() -> None:
    low, high = with_fault("coolant_sensor_low"), with_fault("coolant_sensor_high")
    assert low.running[1] < 0.5
    assert number(high, "coolant_temperature_supply", 1) < number(high, "coolant_temperature_supply", 0) - 5.0


def test_a_dead_circulation_pump_trips_the_limit_and_leaves_the_rooms_cold() -> None:
    found = with_fault("circulation_pump_dead")
    assert found.lit[1] > 0.99
    assert found.running[1] < 0.05
    assert likely(found, "stop_step", 1) == "running"
    assert likely(found, "zone_heat", 1) == "none warm"


def test_an_exhaust_leak_fills_the_living_space() -> None:
    smoky = seen({"air_setting": -0.25}, {"air_setting": -0.25} | fault_row("exhaust_leaking", 1.0))
    assert number(smoky, "living_space_co_running", 1) > 2.0 * number(smoky, "living_space_co_running", 0)


def test_exhaust_drawn_back_reads_rich_with_an_unchanged_back_pressure() -> None:
    found = with_fault("exhaust_drawn_back")
    assert found.air_ratio[1] < 0.75 * found.air_ratio[0]
    assert moved(found, "exhaust_back_pressure") == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("key", ["tank_empty", "pickup_uncovered", "fuel_valve_stuck", "fuel_pump_stuck"])
def test_without_fuel_nothing_lights_and_the_chamber_stays_dry(key: str) -> None:
    found = with_fault(key)
    assert found.lit[1] < 0.02
    assert found.asked[1] > 0.99
    assert likely(found, "smoke_colour", 1) == "none"
    assert likely(found, "chamber_look", 1) == "dry"


@pytest.mark.parametrize(
    "key", ["fuse_blown", "switch_off", "thermostat_satisfied", "control_locked_out", "high_limit_tripped"]
)
def test_what_keeps_the_control_from_asking_leaves_it_at_rest(key: str) -> None:
    found = with_fault(key)
    assert found.asked[1] < 0.05
    assert likely(found, "stop_step", 1) == "at rest"
    assert likely(found, "owner_says", 1) == "does nothing"


def test_sound_heaters_run_well_everywhere_they_are_meant_to() -> None:
    """Nineteen in twenty light and stay lit: at sea level, in frost, and set for 2,000 m."""
    rows = np.random.default_rng(11).normal(size=(300, len(PARAMETERS))) * SPREADS
    high = replace(USUAL, altitude_m=2000.0, air_temperature_k=283.15, set_altitude_m=2000.0)
    for sheet in SHELF.sheets.values():
        for conditions in (USUAL, high, replace(USUAL, air_temperature_k=263.15, fuel_temperature_k=268.15)):
            found = predict(sheet, conditions, rows, with_signs=False)
            assert np.mean(found.running > 0.9) > 0.95
