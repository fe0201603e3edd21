"""Firing rate and heat to the coolant."""

import math

import numpy as np
import pytest

from lightoff.ground.errors import Refusal, Refusals
from lightoff.physics.firing import firing_rate, heat_to_coolant
from lightoff.physics.fuel import Fuel
from lightoff.texts.speaker import Speaker

COOLANT = {
    "coolant_flow_m3_s": 2e-4,
    "coolant_density_kg_m3": 1020.0,
    "coolant_heat_capacity_j_kg_k": 3700.0,
    "supply_temperature_k": 350.0,
    "return_temperature_k": 330.0,
}


def test_a_measured_bottle_gives_mass_and_heat(diesel: Fuel) -> None:
    rate = firing_rate(diesel, volume_m3=1e-4, time_s=200.0, fuel_temperature_k=288.15)
    assert rate.fuel_flow_m3_s.value == pytest.approx(5e-7)
    assert rate.fuel_flow_kg_s.value == pytest.approx(5e-7 * 848.3)
    assert rate.gross_input_w.value == pytest.approx(5e-7 * 848.3 * 45.759e6)
    assert rate.net_input_w.value == pytest.approx(5e-7 * 848.3 * diesel.net_heating_value_j_kg)


def test_a_net_fuel_derives_the_gross(biodiesel: Fuel) -> None:
    rate = firing_rate(biodiesel, volume_m3=1e-4, time_s=200.0, fuel_temperature_k=288.15)
    ratio = rate.gross_input_w.value / rate.net_input_w.value
    assert ratio == pytest.approx(biodiesel.gross_heating_value_j_kg / biodiesel.net_heating_value_j_kg)


def test_cold_fuel_is_more_fuel(diesel: Fuel) -> None:
    cold, warm = (
        firing_rate(diesel, volume_m3=1e-4, time_s=200.0, fuel_temperature_k=t).net_input_w.value
        for t in (263.15, 303.15)
    )
    assert cold / warm == pytest.approx(865.85 / 837.66, rel=1e-3)


def test_bottle_and_watch_carry_their_doubt(diesel: Fuel) -> None:
    rate = firing_rate(
        diesel, volume_m3=1e-4, time_s=200.0, fuel_temperature_k=288.15,
        volume_half_width_m3=2e-6, time_half_width_s=1.0,
    )  # fmt: skip
    flow = rate.fuel_flow_m3_s
    assert flow.half_width() / flow.value == pytest.approx(math.hypot(0.02, 0.005), rel=1e-3)
    batch = math.hypot(0.02, 0.005, 0.015)  # and the density between batches
    assert rate.fuel_flow_kg_s.half_width() / rate.fuel_flow_kg_s.value == pytest.approx(batch, rel=1e-3)
    heat = math.hypot(batch, 0.01)
    assert rate.gross_input_w.half_width() / rate.gross_input_w.value == pytest.approx(heat, rel=1e-3)
    net, gross = diesel.net_heating_value_j_kg, diesel.gross_heating_value_j_kg
    # Half a point of hydrogen moves the latent heat: half a mole of water for a mole of hydrogen.
    of_heat = math.hypot(0.01 * gross, 0.005 / 2.016e-3 * 44_004.0) / net
    expected = math.hypot(batch, of_heat)
    assert rate.net_input_w.half_width() / rate.net_input_w.value == pytest.approx(expected, rel=1e-3)


def test_heat_to_coolant_and_efficiency(diesel: Fuel) -> None:
    rate = firing_rate(diesel, volume_m3=1e-4, time_s=190.0, fuel_temperature_k=288.15)
    got = heat_to_coolant(**COOLANT, delta_temperature_half_width_k=1.0, rate=rate)
    assert got.heat_w.value == pytest.approx(2e-4 * 1020 * 3700 * 20)
    assert got.heat_w.half_width() / got.heat_w.value == pytest.approx(0.05, rel=1e-6)
    assert got.efficiency_net_fraction.value == pytest.approx(got.heat_w.value / rate.net_input_w.value)
    assert got.efficiency_gross_fraction.value < got.efficiency_net_fraction.value
    relative = math.hypot(0.05, rate.net_input_w.half_width() / rate.net_input_w.value)
    share = got.efficiency_net_fraction.half_width() / got.efficiency_net_fraction.value
    assert share == pytest.approx(relative, rel=5e-3)
    assert heat_to_coolant(**COOLANT).efficiency_net_fraction is None


def test_arrays_of_tests(diesel: Fuel) -> None:
    rate = firing_rate(diesel, volume_m3=np.array([1e-4, 2e-4]), time_s=np.array([200.0, 400.0]))
    assert np.ptp(rate.net_input_w.value) == pytest.approx(0.0, abs=1e-6)


def test_a_bottle_or_watch_that_reads_nothing_is_refused(diesel: Fuel) -> None:
    with pytest.raises(Refusals) as error:
        firing_rate(diesel, volume_m3=0.0, time_s=-1.0)
    sentences = [Speaker().say(each.message) for each in error.value.refusals]
    assert "The fuel volume is" in sentences[0]
    assert "it must be above zero. Measure again." in sentences[1]
    with pytest.raises(Refusal):
        firing_rate(diesel, volume_m3=1e-4, time_s=float("nan"))


def test_supply_colder_than_return_is_refused() -> None:
    with pytest.raises(Refusal) as error:
        heat_to_coolant(**(COOLANT | {"supply_temperature_k": 320.0}))
    assert "Check that supply and return are not exchanged" in Speaker().say(error.value.message)
    assert error.value.field == "coolant_temperature_supply"
