"""Volts and amps by phase, solved again here as a network."""

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.heater.rating import Rating, rate
from lightoff.heater.supply import CONTROL_CURRENT_A, Leads, Volts, usual_running_v, volts
from lightoff.shelf import open_shelf

SHELF = open_shelf()
SIX = rate(SHELF.sheets["generic_6_kw"], SHELF.fuels["diesel_2"])
ORDER = {
    "battery_v": 12.66,
    "battery_ohm": 0.010,
    "supply_ohm": 0.020,
    "ground_ohm": 0.008,
    "contact_ohm": 0.010,
    "igniter_ohm": SIX.igniter_hot_ohm,
    "igniter_conducts": 1.0,
    "fan_a": 1.8,
    "compressor_a": 2.2,
    "pump_a": 1.0,
}


def phases(rating: Rating = SIX, **changed: float) -> Volts:
    return volts(rating, Leads(**{k: np.array([changed.get(k, usual)]) for k, usual in ORDER.items()}))


def test_ohm_and_kirchhoff() -> None:
    """The igniter's branch and constant currents behind one source resistance: two equations solved anew."""
    seen, source = phases(), 0.038
    branch = SIX.igniter_hot_ohm + 0.010
    constant = 1.8 + CONTROL_CURRENT_A  # the fan purges before
    matrix, right = np.array([[1.0, source], [-1.0 / branch, 1.0]]), np.array([12.66, constant])
    plug, total = np.linalg.solve(matrix, right)
    assert seen.igniting_v[0] == pytest.approx(plug)
    assert seen.igniter_a[0] == pytest.approx(total - constant)
    assert seen.ground_drop_v[0] == pytest.approx(0.008 * total)
    assert seen.igniter_lead_v[0] == pytest.approx(seen.igniter_a[0] * SIX.igniter_hot_ohm)
    assert seen.rest_v[0] == pytest.approx(12.66 - source * CONTROL_CURRENT_A)


def test_a_control_without_pre_purge_heats_its_igniter_with_the_fan_off() -> None:
    without = replace(SIX, sheet=replace(SIX.sheet, pre_purge_s=0.0))
    assert phases(without).igniting_v[0] > phases().igniting_v[0]


def test_in_order_the_motors_see_their_usual_voltage() -> None:
    assert phases().running_v[0] == pytest.approx(usual_running_v(SIX))
    assert phases().trial_v[0] < phases().running_v[0] < phases().rest_v[0]


def test_an_open_igniter_draws_nothing_and_shows_all_the_voltage() -> None:
    dead = phases(igniter_conducts=0.0)
    assert dead.igniter_a[0] < 0.01
    assert dead.igniter_lead_v[0] == pytest.approx(dead.igniting_v[0], abs=0.01)


def test_a_pin_pushed_back_leaves_the_leads_dead_and_the_plug_high() -> None:
    pushed = phases(contact_ohm=80.0)
    assert pushed.igniter_lead_v[0] < 0.5
    assert pushed.igniting_v[0] > phases().igniting_v[0]


@given(
    ohm=st.floats(0.001, 1.0), more=st.floats(1.05, 5.0), key=st.sampled_from(["battery", "supply", "ground"])
)
def test_more_resistance_less_voltage_under_load(ohm: float, more: float, key: str) -> None:
    little, much = (phases(**{f"{key}_ohm": each}) for each in (ohm, ohm * more))
    for name in ("igniting_v", "trial_v", "running_v", "igniter_a"):
        assert getattr(much, name)[0] <= getattr(little, name)[0]
    # Without a load it hardly shows.
    assert little.rest_v[0] - much.rest_v[0] <= CONTROL_CURRENT_A * ohm * (more - 1.0) + 1e-9


def test_only_the_ground_drops_at_the_ground() -> None:
    assert phases(ground_ohm=0.08).ground_drop_v[0] > 5.0 * phases().ground_drop_v[0]
    assert phases(supply_ohm=0.2).ground_drop_v[0] < phases().ground_drop_v[0]


def test_every_voltage_is_finite_with_the_worst_leads() -> None:
    worst = phases(battery_v=0.1, battery_ohm=1.0, supply_ohm=2.0, contact_ohm=1e4, igniter_conducts=0.0)
    assert all(np.isfinite(getattr(worst, each.name)[0]) for each in fields(worst))
