"""Laws of the forward model: rated state, altitude, voltage, energy, and that every answer is a number."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from one_heater import (
    DIESEL,
    DRY,
    PUMPED,
    SHELF,
    SIPHONED,
    USUAL,
    every_array,
    fault_row,
    number,
    seen,
    shifts,
)

from lightoff.physics import burn
from lightoff.physics.flame import air_heat_j_mol, gas_heat_j_kg
from lightoff.plant import model
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import predict
from lightoff.plant.parameters import PARAMETERS, SPREADS
from lightoff.plant.quantities import QUANTITIES, compared
from lightoff.terms.shelf import Feed, Sheet

SHEETS = list(SHELF.sheets.values())
each_sheet = pytest.mark.parametrize("sheet", SHEETS, ids=list(SHELF.sheets))
any_sheet = st.sampled_from(SHEETS)
places = st.builds(
    Conditions,
    fuel=st.sampled_from(list(SHELF.fuels.values())),
    rated_fuel=st.just(DIESEL),
    altitude_m=st.floats(0.0, 4000.0),
    air_temperature_k=st.floats(243.15, 318.15),
    relative_humidity_fraction=st.floats(0.0, 1.0),
    fuel_temperature_k=st.floats(243.15, 318.15),
    rest_v=st.none(),
    coolant_start_k=st.floats(243.15, 350.0),
    coolant_glycol_fraction=st.floats(0.0, 0.6),
    since_fired_s=st.none() | st.floats(0.0, 4e7),
    lift_m=st.floats(-1.0, 2.0),
    tank_level_fraction=st.floats(0.0, 1.0),
    exhaust_length_m=st.floats(0.5, 5.0),
    inlet_length_m=st.floats(0.1, 3.0),
    set_altitude_m=st.floats(0.0, 3000.0),
    set_air_temperature_k=st.floats(263.15, 308.15),
)


@each_sheet
def test_the_rated_state_is_the_sheet(sheet: Sheet) -> None:
    """Fuel to a thousandth, oxygen within the sheet's band and 0.1 of its middle, heat within 3 %, currents
    within 2 %, voltages and light-off within the sheet's own."""
    found = seen(sheet=sheet, conditions=DRY)
    middle_o2 = 0.5 * (sheet.o2_dry_low_fraction + sheet.o2_dry_high_fraction)
    assert number(found, "fuel_flow") == pytest.approx(sheet.fuel_flow_kg_s, rel=1e-3)
    assert number(found, "flue_o2") == pytest.approx(middle_o2, abs=0.001)
    heat_w = found.efficiency[0] * number(found, "fuel_flow") * DIESEL.net_heating_value_j_kg
    assert heat_w == pytest.approx(sheet.heat_output_w, rel=0.03)
    assert number(found, "fan_current") == pytest.approx(sheet.fan_current_a, rel=0.02)
    assert number(found, "compressor_current") == pytest.approx(sheet.compressor_current_a, rel=0.02)
    assert number(found, "fuel_pump_current") == pytest.approx(sheet.pump_current_a, rel=0.02)
    assert number(found, "igniter_current") == pytest.approx(sheet.igniter_w / sheet.igniter_v, rel=0.08)
    assert number(found, "atomising_air_pressure") == pytest.approx(
        sheet.atomising_gauge_pressure_pa, rel=0.01
    )
    assert sheet.light_off_low_s <= number(found, "time_to_light") <= sheet.light_off_high_s
    assert number(found, "after_run_time") == sheet.after_run_s
    assert found.lit[0] > 0.999
    assert found.running[0] > 0.99
    assert found.smoke_margin[0] > 0.05
    assert number(found, "flue_co") < 50e-6
    assert number(found, "smoke_number") < 0.5
    if sheet.stack_temperature_highest_k is not None:
        assert number(found, "stack_gas_temperature") < sheet.stack_temperature_highest_k


@settings(max_examples=40, deadline=None)
@given(sheet=any_sheet, conditions=places, seed=st.integers(0, 2**32 - 1))
def test_every_answer_is_a_number_and_every_chance_a_chance(
    sheet: Sheet, conditions: Conditions, seed: int
) -> None:
    """Every shift within four spreads, every fault at every severity, alone and in pairs."""
    rng = np.random.default_rng(seed)
    keys = list(SHELF.faults)
    faults = [fault_row(str(key), float(rng.uniform())) for key in rng.permutation(keys)[:30]]
    pairs = [one | other for one, other in zip(faults[::2], faults[1::2], strict=True)]
    rows = shifts({}, *faults, *pairs)
    rows = np.concatenate([rows, rows + rng.uniform(-4.0, 4.0, rows.shape) * SPREADS])
    found = predict(sheet, conditions, rows)
    assert all(np.all(np.isfinite(each)) for each in every_array(found))
    for key, chances in found.chances.items():
        assert np.all(chances > 0.0), key
        assert np.allclose(chances.sum(axis=1), 1.0), key
    for chance in (found.lit, found.running, found.asked, found.light_chance):
        assert np.all((chance >= 0.0) & (chance <= 1.0 + 1e-9))
    burns = found.air_ratio < 5.0  # where hardly any fuel burns, warm air may heat cold coolant
    assert np.all((found.efficiency[burns] >= 0.0) & (found.efficiency[burns] <= 1.02))
    assert np.all(found.running <= found.lit + 1e-12)
    for key, at in ((key, at) for at, key in enumerate(QUANTITIES)):
        if QUANTITIES[key].dimension != "temperature":
            assert np.all(found.numeric[:, at] >= 0.0), key


@pytest.mark.parametrize("key", sorted(SHELF.faults))
def test_every_fault_at_every_severity_is_told_from_a_sound_heater(key: str) -> None:
    """It moves a number by more than a careful reading repeats, or a sign, or it shows by eye alone."""
    ends = [fault_row(key, severity) for severity in (0.0, 0.5, 1.0)]
    for sheet in SHEETS:
        found = seen({}, *ends, sheet=sheet)
        assert all(np.all(np.isfinite(each)) for each in every_array(found))
        slack = np.array([max(each.slack, 1e-9) for each in QUANTITIES.values()])
        scaled = compared(found.numeric)
        moved = np.max(np.abs(scaled[3] - scaled[0]) / slack)
        signs = max(np.max(np.abs(c[3] - c[0])) for c in found.chances.values())
        gates = max(np.abs(getattr(found, n)[3] - getattr(found, n)[0]) for n in ("lit", "running", "asked"))
        assert moved > 1.0 or signs > 0.1 or gates > 0.1 or SHELF.faults[key].shows


@settings(deadline=None, max_examples=30)
@given(
    sheet=any_sheet,
    low_m=st.floats(0.0, 3500.0),
    up_m=st.floats(50.0, 500.0),
    air_k=st.floats(248.15, 308.15),
    up_k=st.floats(1.0, 10.0),
)
def test_the_air_ratio_falls_with_height_and_heat(
    sheet: Sheet, low_m: float, up_m: float, air_k: float, up_k: float
) -> None:
    def ratio(altitude_m: float, temperature_k: float) -> float:
        there = replace(DRY, altitude_m=altitude_m, air_temperature_k=temperature_k)
        return float(seen(sheet=sheet, conditions=there).air_ratio[0])

    assert ratio(low_m + up_m, air_k) < ratio(low_m, air_k)
    assert ratio(low_m, air_k + up_k) < ratio(low_m, air_k)


@settings(deadline=None, max_examples=30)
@given(sheet=any_sheet, share=st.floats(0.9, 1.05), less=st.floats(0.01, 0.1))
def test_less_voltage_is_less_air_a_colder_later_igniter_and_less_current(
    sheet: Sheet, share: float, less: float
) -> None:
    strong, weak = (
        seen(sheet=sheet, conditions=replace(USUAL, rest_v=each * sheet.supply_v))
        for each in (share, share - less)
    )
    # A siphon's fuel falls with the atomising air, faster than the air of the fan: it may even run leaner.
    if sheet.feed is Feed.METERING_PUMP:
        assert weak.air_ratio[0] < strong.air_ratio[0]
    assert weak.light_chance[0] <= strong.light_chance[0]
    for key in ("igniter_current", "supply_voltage_igniter", "fan_current", "atomising_air_pressure"):
        assert number(weak, key) < number(strong, key)
    assert number(weak, "time_to_light") > number(strong, "time_to_light")


@settings(deadline=None, max_examples=40)
@given(
    sheet=any_sheet,
    conditions=places,
    setting=st.floats(-0.3, 0.4),
    soot=st.floats(0.0, 1.5e-3),
    drops=st.floats(-0.2, 0.5),
)
def test_energy_closes(
    sheet: Sheet, conditions: Conditions, setting: float, soot: float, drops: float
) -> None:
    """Fuel's heat = coolant + flue + case: the flue's by the exact gas at the stack that was predicted."""
    found = seen(
        {"air_setting": setting, "jacket_soot": soot, "spray": drops}, sheet=sheet, conditions=conditions
    )
    ratio, fuel = float(found.air_ratio[0]), conditions.fuel
    if not 1.02 <= ratio <= 3.0:
        return
    gas = burn.products(fuel.stoichiometry, air_ratio=ratio, co_dry_fraction=number(found, "flue_co"))
    up = float(gas_heat_j_kg(gas, np.array([number(found, "stack_gas_temperature")]))[0])
    half_burnt = float(gas.co) * 282_980.0
    intake = np.array([conditions.air_temperature_k])
    brought = ratio * fuel.stoichiometry.air_mol_kg * float(air_heat_j_mol(intake, np.zeros(1))[0])
    lower = fuel.net_heating_value_j_kg
    case = model.CASE_LOSS_SHARE
    smoke = 0.002 * number(found, "smoke_number")
    total = found.efficiency[0] + (up + half_burnt - brought) / lower + case + smoke
    assert total == pytest.approx(1.0, abs=0.012)


def test_coolant_and_stack_agree_whatever_ends_the_run() -> None:
    """Colder coolant takes more heat and leaves the stack colder by most of its own fall."""
    rows = seen({}, {"thermostat_offset": -20.0})
    fall = number(rows, "stack_gas_temperature", 0) - number(rows, "stack_gas_temperature", 1)
    water = number(rows, "coolant_temperature_supply", 0) - number(rows, "coolant_temperature_supply", 1)
    assert water == pytest.approx(20.0, abs=1.0)
    assert 0.7 * water < fall < water
    assert rows.efficiency[1] > rows.efficiency[0]


@settings(deadline=None, max_examples=30)
@given(sheet=any_sheet, start=st.floats(-0.7, -0.1), less=st.floats(0.01, 0.2))
def test_co_and_smoke_never_fall_as_air_falls_below_the_smoke_point(
    sheet: Sheet, start: float, less: float
) -> None:
    found = seen({"air_setting": start}, {"air_setting": start - less}, sheet=sheet)
    if found.smoke_margin[0] <= 0.0:
        assert number(found, "flue_co", 1) >= number(found, "flue_co", 0) - 1e-9
        assert number(found, "smoke_number", 1) >= number(found, "smoke_number", 0) - 1e-9
    assert found.air_ratio[1] < found.air_ratio[0]


@each_sheet
@pytest.mark.parametrize("key", ["inlet_restriction", "exhaust_restriction"])
def test_more_restriction_of_the_air_is_less_air(sheet: Sheet, key: str) -> None:
    found = seen(*({key: each} for each in (0.0, 0.5, 1.0, 2.0)), sheet=sheet)
    assert np.all(np.diff(found.air_ratio) < 0.0)


@each_sheet
@pytest.mark.parametrize("key", ["filter_restriction", "line_restriction"])
def test_more_restriction_of_the_fuel_is_more_vacuum_less_fuel_and_leaner(sheet: Sheet, key: str) -> None:
    found = seen(*({key: each} for each in (0.0, 1.0, 2.0, 3.0)), sheet=sheet)
    vacuum = [number(found, "fuel_vacuum", row) for row in range(4)]
    fuel = [number(found, "fuel_flow", row) for row in range(4)]
    assert vacuum == sorted(vacuum)
    assert vacuum[3] > vacuum[0]
    assert fuel == sorted(fuel, reverse=True)
    assert np.all(np.diff(found.air_ratio) > 0.0)


@each_sheet
def test_soot_and_scale_make_the_stack_hotter_and_take_heat(sheet: Sheet) -> None:
    for key, steps in (("jacket_soot", 5e-4), ("jacket_scale", 1e-3), ("burn_tube_soot", 5e-4)):
        found = seen(*({key: each * steps} for each in range(4)), sheet=sheet)
        stacks = [number(found, "stack_gas_temperature", row) for row in range(4)]
        assert stacks == sorted(stacks)
        assert stacks[1] - stacks[0] > 5.0
        assert np.all(np.diff(found.efficiency) < 0.0)


def test_a_full_tank_and_a_short_lift_draw_less_vacuum() -> None:
    full, empty = (
        number(seen(conditions=replace(USUAL, tank_level_fraction=each)), "fuel_vacuum")
        for each in (1.0, 0.0)
    )
    assert empty - full == pytest.approx(848.3 * 9.80665 * model.TANK_DEPTH_M, rel=0.01)


def test_longer_pipes_cost_air_and_thin_leads_cost_volts() -> None:
    usual = seen()
    for longer in ({"exhaust_length_m": 4.0}, {"inlet_length_m": 3.0}):
        assert seen(conditions=replace(USUAL, **longer)).air_ratio[0] < usual.air_ratio[0]
    thin = seen(conditions=replace(USUAL, supply_ohm=0.1))
    assert number(thin, "supply_voltage_igniter") < number(usual, "supply_voltage_igniter") - 0.3
    assert number(thin, "battery_voltage_rest") == number(usual, "battery_voltage_rest")


@pytest.mark.parametrize("sheet", [PUMPED, SIPHONED, replace(PUMPED, feed=Feed.UNKNOWN)])
@pytest.mark.parametrize(("altitude_m", "air_k"), [(0.0, 273.15), (1500.0, 288.15), (2500.0, 293.15)])
def test_where_it_was_set_it_burns_as_its_sheet_says(sheet: Sheet, altitude_m: float, air_k: float) -> None:
    """Whatever its feed is, the technician brought the air ratio there to the sheet's."""
    there = replace(
        DRY,
        altitude_m=altitude_m,
        air_temperature_k=air_k,
        set_altitude_m=altitude_m,
        set_air_temperature_k=air_k,
    )
    for feed in (0.0, 0.3):
        found = seen({"feed_law": feed}, sheet=sheet, conditions=there)
        rated = seen({"feed_law": feed}, sheet=sheet, conditions=DRY)
        assert found.air_ratio[0] == pytest.approx(rated.air_ratio[0], rel=0.02)


def test_signs_are_left_out_where_nobody_asks_and_nothing_else_changes() -> None:
    rows = shifts({}, fault_row("igniter_weak", 0.5))
    whole, bare = (predict(PUMPED, USUAL, rows, with_signs=each) for each in (True, False))
    assert bare.chances == {}
    assert np.array_equal(whole.numeric, bare.numeric)
    assert np.array_equal(whole.lit, bare.lit)


def test_blocks_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = np.random.default_rng(3).normal(size=(50, len(PARAMETERS))) * SPREADS
    whole = predict(PUMPED, USUAL, rows)
    monkeypatch.setattr(model, "BLOCK", 7)
    parts = predict(PUMPED, USUAL, rows)
    for one, other in zip(every_array(whole), every_array(parts), strict=True):
        assert np.allclose(one, other, rtol=1e-12, atol=0.0)


def test_no_rows_no_answers() -> None:
    assert predict(PUMPED, USUAL, np.zeros((0, len(PARAMETERS)))).numeric.shape == (0, len(QUANTITIES))


def test_rows_are_left_as_they_were() -> None:
    rows = shifts({"jacket_soot": -1e-4, "fan_open": 2.0})
    before = rows.copy()
    predict(PUMPED, USUAL, rows)
    assert np.array_equal(rows, before)


def test_a_fuel_of_unknown_viscosity_is_taken_as_thick_as_the_rated_one() -> None:
    bare = replace(DIESEL, viscosity_points=None)
    found, usual = seen(conditions=replace(USUAL, fuel=bare)), seen()
    assert np.allclose(found.numeric, usual.numeric)


@each_sheet
def test_thin_coolant_warms_and_flows_as_its_heat_is_held(sheet: Sheet) -> None:
    """Water holds a tenth more than half glycol: it warms slower and rises less, with the same flow."""
    water, half = (replace(DRY, coolant_glycol_fraction=each) for each in (0.0, 0.5))
    rates, rises = [], []
    for conditions in (water, half):
        rates.append(number(seen(sheet=sheet, conditions=conditions), "warm_up_rate"))
        told = seen(sheet=sheet, conditions=conditions)
        supply = number(told, "coolant_temperature_supply")
        rises.append(supply - number(told, "coolant_temperature_return"))
    assert rates[0] / rates[1] == pytest.approx(3.72 / 4.10, rel=0.02)
    assert rises[0] / rises[1] == pytest.approx(3.72 / 4.10, rel=0.02)
    flows = [number(seen(sheet=sheet, conditions=each), "coolant_flow") for each in (water, half)]
    assert flows[0] == flows[1]


@each_sheet
def test_a_heater_that_stood_for_months_is_put_out_by_its_drained_line(sheet: Sheet) -> None:
    def runs_on(since_s: float | None) -> float:
        return float(seen(sheet=sheet, conditions=replace(DRY, since_fired_s=since_s)).running[0])

    day = 86_400.0
    assert runs_on(None) == runs_on(day) == runs_on(9 * day)
    assert runs_on(9 * day) > runs_on(60 * day) > runs_on(300 * day)


@each_sheet
def test_a_chamber_that_is_still_warm_lights_sooner(sheet: Sheet) -> None:
    def delay(since_s: float | None) -> float:
        warm = replace(DRY, air_temperature_k=263.15, coolant_start_k=343.15, since_fired_s=since_s)
        return number(seen(sheet=sheet, conditions=warm), "time_to_light")

    assert delay(60.0) < delay(1_800.0) < delay(None)
    assert delay(1e6) == pytest.approx(delay(None), rel=1e-6)


@each_sheet
def test_the_jacket_of_the_plate_holds_its_soot(sheet: Sheet) -> None:
    """The more surface, the less a layer of soot on it costs."""
    sooted = {"jacket_soot": 5e-4}

    def stack(area_m2: float) -> float:
        told = seen(sooted, sheet=replace(sheet, jacket_area_m2=area_m2), conditions=DRY)
        return number(told, "stack_gas_temperature")

    usual = model.JACKET_M2_PER_W * sheet.heat_output_w
    untold = seen(sooted, sheet=sheet, conditions=DRY)
    assert stack(usual) == number(untold, "stack_gas_temperature")
    assert stack(2.0 * usual) < stack(usual) < stack(0.5 * usual)
