"""A sheet closed by balance: air from its oxygen, conductance from its heat."""

from dataclasses import replace

import pytest

from lightoff.heater.gas_side import gas_side, outlet_temperature_k
from lightoff.heater.rating import CASE_LOSS_SHARE, RATED_WATER_K, Rating, jacket_capacity, rate
from lightoff.physics import burn
from lightoff.physics.fuel import Fuel


def test_its_air_shows_the_middle_of_the_sheets_oxygen(rating: Rating, diesel: Fuel) -> None:
    gas = burn.products(diesel.stoichiometry, air_ratio=rating.air_ratio).dry_fractions()
    sheet = rating.sheet
    middle = 0.5 * (sheet.o2_dry_low_fraction + sheet.o2_dry_high_fraction)
    assert gas["O2"] == pytest.approx(middle, abs=1e-6)


def test_its_heat_closes(rating: Rating, diesel: Fuel) -> None:
    """Fuel's heat = rated heat + stack + case, the stack's by the fitted gas."""
    side, sheet = gas_side(diesel), rating.sheet
    intake = 288.15
    up = side.heat_j_kg(rating.air_ratio, rating.stack_temperature_k)
    brought = rating.air_ratio * side.air_j_k * (intake - 298.15)
    flue = float(up - brought) * sheet.fuel_flow_kg_s
    fuel = diesel.net_heating_value_j_kg * sheet.fuel_flow_kg_s
    assert sheet.heat_output_w + flue + CASE_LOSS_SHARE * fuel == pytest.approx(fuel, rel=1e-9)


def test_its_conductance_cools_the_gas_to_that_stack(rating: Rating, diesel: Fuel) -> None:
    side = gas_side(diesel)
    flame = side.flame_temperature_k(rating.air_ratio, 288.15, 1.0 - CASE_LOSS_SHARE)
    capacity, growth = jacket_capacity(side, rating.air_ratio, rating.sheet.fuel_flow_kg_s, RATED_WATER_K)
    left = outlet_temperature_k(
        inlet_k=flame.reshape(1),
        water_k=RATED_WATER_K,
        conductance_w_k=rating.conductance_w_k + 0.0 * flame.reshape(1),
        capacity_w_k=capacity.reshape(1),
        growth_per_k=growth.reshape(1),
    )
    assert left[0] == pytest.approx(rating.stack_temperature_k, abs=0.01)
    assert 420.0 < rating.stack_temperature_k < 650.0


def test_a_sheet_that_claims_more_heat_than_its_fuel_gives_keeps_a_stack_above_the_coolant(
    rating: Rating, diesel: Fuel
) -> None:
    boast = replace(rating.sheet, heat_output_w=2.0 * rating.sheet.heat_output_w)
    assert rate(boast, diesel).stack_temperature_k == pytest.approx(RATED_WATER_K + 40.0)


def test_volts_and_ohms(rating: Rating) -> None:
    sheet = rating.sheet
    assert rating.igniter_hot_ohm * sheet.igniter_w == pytest.approx(sheet.igniter_v**2)
    assert sheet.supply_v < rating.rest_v < 1.07 * sheet.supply_v
    assert rating.motors_a == sheet.fan_current_a + sheet.compressor_current_a + sheet.pump_current_a


def test_what_the_plate_says_goes_before_balance_and_habit(rating: Rating, diesel: Fuel) -> None:
    said = replace(rating.sheet, stack_temperature_rated_k=510.0, igniter_cold_ohm=0.9)
    told = rate(said, diesel)
    assert told.stack_temperature_k == 510.0
    assert told.igniter_cold_ohm == 0.9
    assert told.igniter_hot_ohm == rating.igniter_hot_ohm
    assert rating.stack_temperature_k > 510.0
    assert told.conductance_w_k > rating.conductance_w_k


def test_the_fans_air_closes_what_no_oxygen_is_told_for(rating: Rating, diesel: Fuel) -> None:
    sheet, moles_m3 = rating.sheet, 101_325.0 / (8.314462618 * 288.15)
    flow = 1.5 * diesel.stoichiometry.air_mol_kg * sheet.fuel_flow_kg_s / moles_m3
    told = replace(sheet, fan_flow_m3_s=flow, estimated=())
    assert rate(told, diesel).air_ratio == rating.air_ratio
    estimated = replace(told, estimated=("o2_dry_low_fraction", "o2_dry_high_fraction"))
    assert rate(estimated, diesel).air_ratio == pytest.approx(1.5, rel=1e-6)
    weak = replace(estimated, fan_flow_m3_s=0.3 * flow)
    assert rate(weak, diesel).air_ratio == 1.05
