"""The fan on its path: restriction, bearings, voltage, and exhaust drawn back."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.heater.air_path import FAN_DROP_SHARE, AirFlow, air_flow

ORDER: dict[str, float] = {
    "voltage_ratio": 1.0,
    "speed_factor": 1.0,
    "friction": 1.0,
    "inlet_restriction": 1.0,
    "exhaust_restriction": 1.0,
    "exhaust_return": 0.0,
    "setting": 1.0,
}


def flow(density_ratio: float = 1.0, **changed: float) -> AirFlow:
    ends = {key: np.array([changed.get(key, usual)]) for key, usual in ORDER.items()}
    return air_flow(density_ratio=density_ratio, **ends)


def test_in_order_everything_is_as_rated() -> None:
    air = flow()
    for ratio in (air.volume_ratio, air.oxygen_ratio, air.fan_current_ratio):
        assert ratio[0] == pytest.approx(1.0, abs=1e-12)
    assert air.back_pressure_pa[0] == pytest.approx(60.0)


restrictions = st.floats(1.0, 20.0)


@given(start=restrictions, more=st.floats(1.01, 3.0), key=st.sampled_from(["inlet", "exhaust"]))
def test_more_restriction_less_air_and_less_current(start: float, more: float, key: str) -> None:
    less, most = (flow(**{f"{key}_restriction": each}) for each in (start, start * more))
    assert most.volume_ratio[0] < less.volume_ratio[0]
    assert most.fan_current_ratio[0] < less.fan_current_ratio[0]


def test_a_blocked_exhaust_pushes_back_and_a_blocked_inlet_does_not() -> None:
    usual = flow().back_pressure_pa[0]
    assert flow(exhaust_restriction=5.0).back_pressure_pa[0] > 1.5 * usual
    assert flow(inlet_restriction=5.0).back_pressure_pa[0] < usual


@given(low=st.floats(0.5, 1.2), more=st.floats(0.01, 0.3))
def test_air_follows_the_voltage(low: float, more: float) -> None:
    """Nearly in proportion: what the winding loses, the lighter load gives back."""
    weak, strong = flow(voltage_ratio=low), flow(voltage_ratio=low + more)
    assert weak.volume_ratio[0] < strong.volume_ratio[0]
    assert weak.volume_ratio[0] == pytest.approx(low, rel=0.04)


@given(friction=st.floats(1.0, 8.0), more=st.floats(1.05, 2.0))
def test_stiff_bearings_slow_the_fan_and_cost_current(friction: float, more: float) -> None:
    less, most = flow(friction=friction), flow(friction=friction * more)
    assert most.volume_ratio[0] <= less.volume_ratio[0]
    assert most.fan_current_ratio[0] >= less.fan_current_ratio[0]
    assert most.fan_current_ratio[0] <= 1.0 / FAN_DROP_SHARE + 1e-9  # a motor that stands still


def test_the_torques_balance() -> None:
    """Volts are speed and what the current loses in the winding: the motor's law put together again."""
    air = flow(friction=2.5, exhaust_restriction=3.0, voltage_ratio=0.93)
    open_flow = air.volume_ratio[0]
    speeds = np.linspace(0.3, 1.2, 20_001)
    wide = 1.0 / np.sqrt(0.5 + 0.5 * (0.3 + 0.4 * 3.0 + 0.3))
    current = 0.67 * (0.4 + 0.6 * wide) * speeds**2 + 0.33 * 2.5
    volts = 0.85 * speeds + 0.15 * current
    at = int(np.argmin(np.abs(volts - 0.93)))
    assert open_flow == pytest.approx(wide * speeds[at], rel=1e-3)
    assert air.fan_current_ratio[0] == pytest.approx(current[at], rel=1e-3)


@given(density=st.floats(0.55, 1.2))
def test_thin_air_is_the_same_volume_and_less_oxygen(density: float) -> None:
    air = flow(density)
    assert air.volume_ratio[0] == pytest.approx(1.0)
    assert air.oxygen_ratio[0] == pytest.approx(density)


def test_exhaust_drawn_back_takes_the_place_of_air_and_moves_as_much() -> None:
    air = flow(exhaust_return=0.3)
    assert air.volume_ratio[0] == pytest.approx(1.0)
    assert air.oxygen_ratio[0] == pytest.approx(0.7)


def test_a_fan_that_stands_moves_nothing() -> None:
    air = flow(speed_factor=0.0)
    assert air.volume_ratio[0] == 0.0
    assert np.isfinite(air.fan_current_ratio[0])
