"""Atomising air and drops: pressure, current and size in the right direction."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.heater.spray import COARSEST, AtomisingAir, atomising_air, drops

AIR = {
    "capacity": 1.0,
    "speed_ratio": 1.0,
    "intake_restriction": 1.0,
    "leak_share": 0.0,
    "nozzle_air_area": 1.0,
}


def air(density_ratio: float = 1.0, **changed: float) -> AtomisingAir:
    ends = {key: np.array([changed.get(key, usual)]) for key, usual in AIR.items()}
    return atomising_air(density_ratio=density_ratio, **ends)


def size(
    brought: AtomisingAir,
    *,
    fuel: float = 1.0,
    viscosity: float = 1.0,
    quality: float = 1.0,
    density: float = 1.0,
) -> float:
    return float(
        drops(
            brought,
            fuel_ratio=np.array([fuel]),
            viscosity_ratio=np.array([viscosity]),
            density_ratio=density,
            quality=np.array([quality]),
        )[0]
    )


def test_in_order_everything_is_as_rated() -> None:
    brought = air()
    for ratio in (brought.pressure_ratio, brought.flow_ratio, brought.compressor_current_ratio):
        assert ratio[0] == pytest.approx(1.0)
    assert size(brought) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("changed", "pressure", "current"),
    [
        ({"intake_restriction": 5.0}, "down", "down"),  # a plugged filter unloads it
        ({"leak_share": 0.7}, "down", "down"),  # it runs light
        ({"capacity": 0.6}, "down", "same"),  # what wears it drags it
        ({"nozzle_air_area": 0.75}, "up", "up"),  # carbon in the bores
        ({"nozzle_air_area": 1.3}, "down", "down"),
    ],
)
def test_pressure_and_current_tell_the_causes_apart(
    changed: dict[str, float], pressure: str, current: str
) -> None:
    seen = air(**changed)
    told = {True: "up", False: "down"}
    assert told[bool(seen.pressure_ratio[0] > 1.0)] == pressure
    off = seen.compressor_current_ratio[0] - 1.0
    assert ("same" if abs(off) < 0.1 else told[bool(off > 0.0)]) == current


@given(intake=st.floats(1.0, 10.0), more=st.floats(1.01, 3.0))
def test_a_dirtier_intake_gives_coarser_drops(intake: float, more: float) -> None:
    assert size(air(intake_restriction=intake * more)) >= size(air(intake_restriction=intake))


@given(density=st.floats(0.55, 1.0), thinner=st.floats(0.8, 0.99))
def test_thin_air_atomises_worse(density: float, thinner: float) -> None:
    """A compressor moves a volume: pressure and mass of its air fall with density, and drops grow."""
    thick, thin = air(density), air(density * thinner)
    assert thin.pressure_ratio[0] == pytest.approx(thick.pressure_ratio[0] * thinner)
    assert thin.flow_ratio[0] == pytest.approx(thick.flow_ratio[0] * thinner)
    assert size(thin, density=density * thinner) > size(thick, density=density)


def test_drops_in_thin_air_are_the_laws_own() -> None:
    """The same speed of thinner air: (1 / 0.78)^0.4 of the torn part, and less air for the same fuel."""
    mixing = (1.0 + 1.0 / (0.78 * 0.6)) / (1.0 + 1.0 / 0.6)
    expected = 0.75 * (mixing / 0.78) ** 0.4 + 0.25 * mixing
    assert size(air(0.78), density=0.78) == pytest.approx(expected)


def test_cold_fuel_much_fuel_and_a_bad_nozzle_give_coarser_drops() -> None:
    assert 1.1 < size(air(), viscosity=2.4) < 1.5
    assert size(air(), fuel=1.4) > 1.1
    assert size(air(), quality=1.5) == pytest.approx(1.5)


def test_a_dead_compressor_gives_the_coarsest_drops_and_no_current_runs_away() -> None:
    dead = air(capacity=0.0)
    assert dead.pressure_ratio[0] == 0.0
    assert size(dead) == COARSEST
    assert dead.compressor_current_ratio[0] < 2.0
