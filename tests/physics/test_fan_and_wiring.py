"""Laws of the fan, its motor, and the copper that feeds it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.physics.fan import (
    SHUT_OFF_POWER_FRACTION,
    fan_power_ratio,
    motor_speed_ratio,
    volume_flow_ratio,
)
from lightoff.physics.wiring import copper_resistance_ohm, loaded_voltage_v

ratios = st.floats(0.1, 5.0)
shares = st.floats(0.0, 0.95)
drops = st.floats(0.0, 0.5)


@given(ratios, ratios, shares)
def test_flow_is_where_the_fan_meets_its_path(speed: float, path: float, internal: float) -> None:
    """Forward twin: the two curves themselves, with the rated path's k = 1."""
    flow = volume_flow_ratio(speed_ratio=speed, path_resistance_ratio=path, internal_share=internal)
    inside = internal / (1.0 - internal)
    made = (1.0 + inside) * speed**2 - inside * flow**2
    assert made == pytest.approx(path * flow**2, rel=1e-9)


@given(ratios, shares, st.floats(1.01, 3.0))
def test_flow_follows_speed_and_falls_with_resistance(path: float, internal: float, more: float) -> None:
    here = volume_flow_ratio(speed_ratio=1.0, path_resistance_ratio=path, internal_share=internal)
    faster = volume_flow_ratio(speed_ratio=more, path_resistance_ratio=path, internal_share=internal)
    tighter = volume_flow_ratio(speed_ratio=1.0, path_resistance_ratio=path * more, internal_share=internal)
    assert faster == pytest.approx(more * here)
    assert here / more**0.5 * (1 - 1e-12) <= tighter < here


def test_flow_at_its_ends() -> None:
    def flow(speed: float, path: float) -> object:
        return volume_flow_ratio(speed_ratio=speed, path_resistance_ratio=path, internal_share=0.5)

    assert flow(1.0, 1.0) == 1.0
    assert flow(0.0, 1.0) == 0.0
    assert flow(1.0, np.inf) == 0.0
    assert flow(1.0, 0.0) == pytest.approx(2**0.5)


@given(ratios, ratios)
def test_power_obeys_the_fan_laws_and_unloads_on_a_blocked_path(speed: float, density: float) -> None:
    same_path = fan_power_ratio(flow_ratio=speed, speed_ratio=speed, density_ratio=density)
    assert same_path == pytest.approx(density * speed**3)
    blocked = fan_power_ratio(flow_ratio=0.0, speed_ratio=speed, density_ratio=density)
    assert blocked == pytest.approx(SHUT_OFF_POWER_FRACTION * same_path)


@given(st.floats(0.0, 2.0), st.floats(0.0, 20.0), drops)
def test_motor_balances_its_volts(volts: float, load: float, drop: float) -> None:
    speed = motor_speed_ratio(voltage_ratio=volts, load_ratio=load, drop_share=drop)
    assert (1.0 - drop) * speed + drop * load * speed**2 == pytest.approx(volts, rel=1e-9, abs=1e-12)


@given(st.floats(0.1, 1.5), st.floats(0.1, 10.0), st.floats(0.02, 0.5), st.floats(1.01, 3.0))
def test_motor_slows_with_load_and_low_volts(volts: float, load: float, drop: float, more: float) -> None:
    def speed(v: float, weight: float) -> object:
        return motor_speed_ratio(voltage_ratio=v, load_ratio=weight, drop_share=drop)

    assert speed(volts, load * more) < speed(volts, load) < speed(volts * more, load)


def test_motor_at_its_ends() -> None:
    assert motor_speed_ratio(voltage_ratio=1.0, load_ratio=1.0, drop_share=0.2) == pytest.approx(1.0)
    assert motor_speed_ratio(voltage_ratio=0.0, load_ratio=1.0, drop_share=0.2) == 0.0
    assert motor_speed_ratio(voltage_ratio=1.0, load_ratio=0.0, drop_share=0.2) == pytest.approx(1.25)


@given(st.floats(0.1, 50.0), st.floats(1e-7, 1e-4), st.floats(200.0, 400.0), st.floats(1.01, 5.0))
def test_copper_resists_with_length_warmth_and_thinness(long, section, warm, more) -> None:
    def ohms(length: float, metal: float, kelvin: float) -> object:
        return copper_resistance_ohm(length_m=length, section_m2=metal, temperature_k=kelvin)

    here = ohms(long, section, warm)
    assert 0.0 < here < ohms(long, section, warm + 1.0)
    assert ohms(long * more, section * more, warm) == pytest.approx(here)
    assert ohms(long * more, section, warm) == pytest.approx(more * here)


@given(st.floats(8.0, 30.0), st.floats(0.0, 0.5), st.floats(0.2, 20.0), st.floats(0.0, 20.0))
def test_plug_voltage_obeys_kirchhoff(rest: float, source: float, load: float, current: float) -> None:
    volts = loaded_voltage_v(
        rest_v=rest, source_ohm=source, resistive_load_ohm=load, constant_current_a=current
    )
    assert 0.0 <= volts <= rest
    drawn = current + volts / load
    if rest > source * current:
        assert rest - source * drawn == pytest.approx(volts, abs=1e-9)
    else:
        assert volts == 0.0


def test_plug_voltage_at_its_ends() -> None:
    def volts(source: float, load: float, current: float) -> object:
        return loaded_voltage_v(
            rest_v=12.6, source_ohm=source, resistive_load_ohm=load, constant_current_a=current
        )

    assert volts(0.0, 1.6, 10.0) == 12.6
    assert volts(0.75 / 18.0, np.inf, 18.0) == pytest.approx(11.85)
    assert volts(0.05, 0.0, 0.0) == 0.0
    assert volts(10.0, 1.6, 10.0) == 0.0


def test_rows_are_worked_out_each_for_itself() -> None:
    speeds, paths = np.array([0.8, 1.0]), np.array([[1.0], [2.0], [3.0]])
    flow = volume_flow_ratio(speed_ratio=speeds, path_resistance_ratio=paths, internal_share=0.4)
    assert isinstance(flow, np.ndarray)
    assert flow.shape == (3, 2)
    assert flow[2, 0] == volume_flow_ratio(speed_ratio=0.8, path_resistance_ratio=3.0, internal_share=0.4)
    alone = volume_flow_ratio(speed_ratio=0.8, path_resistance_ratio=3.0, internal_share=0.4)
    assert isinstance(alone, float)
    loads = loaded_voltage_v(
        rest_v=12.0,
        source_ohm=np.array([0.1, 0.1]),
        resistive_load_ohm=np.array([1.5, np.inf]),
        constant_current_a=0.0,
    )
    assert loads == pytest.approx([12.0 / (1 + 0.1 / 1.5), 12.0])
