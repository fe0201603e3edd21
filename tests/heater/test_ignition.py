"""The igniter's glow, its chance to light and how long it takes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.heater.ignition import Ignition, ignition
from lightoff.physics.igniter import steady_temperature_k

ORDER = {
    "power_w": 100.0,
    "seat": 1.0,
    "drop_size_ratio": 1.0,
    "air_ratio": 1.35,
    "delivered_share": 1.0,
    "delay_law": 1.0,
}


def light(surroundings_k: float = 288.15, **changed: float) -> Ignition:
    """With the line drawn down as it was left standing, unless told."""
    ends = {key: np.array([changed.get(key, usual)]) for key, usual in ORDER.items()}
    ends["standing_air_ratio"] = np.array([changed.get("standing_air_ratio", ends["air_ratio"][0])])
    return ignition(rated_w=100.0, surroundings_k=surroundings_k, usual_delay_s=45.0, **ends)


def test_in_order_it_lights_at_the_first_try_in_its_usual_time() -> None:
    seen = light()
    assert 1350.0 < seen.glow_k[0] < 1450.0
    assert seen.chance[0] > 0.99
    assert seen.delay_s[0] == pytest.approx(45.0, rel=0.02)


@given(power=st.floats(1.0, 150.0), more=st.floats(1.01, 2.0))
def test_less_power_is_a_colder_later_less_likely_light(power: float, more: float) -> None:
    weak, strong = light(power_w=power), light(power_w=power * more)
    assert weak.glow_k[0] < strong.glow_k[0]
    assert weak.chance[0] <= strong.chance[0]
    assert weak.delay_s[0] >= strong.delay_s[0] - 1e-9


def test_the_glow_falls_half_as_fast_as_the_voltage() -> None:
    """Power goes with the square of voltage, radiation with the fourth power of temperature."""
    full, less = (light(power_w=100.0 * v**2).glow_k[0] for v in (1.0, 0.9))
    assert (full - less) / full == pytest.approx(0.5 * 0.1, rel=0.25)


@given(drawn=st.floats(0.3, 6.0), standing=st.floats(0.3, 6.0))
def test_a_line_that_stands_full_lights_what_one_drawn_down_does_not(drawn: float, standing: float) -> None:
    both, drawn_down, full = (
        light(air_ratio=air_ratio, standing_air_ratio=at_first).chance[0]
        for air_ratio, at_first in ((drawn, standing), (drawn, drawn), (standing, standing))
    )
    assert min(drawn_down, full) - 1e-12 <= both <= max(drawn_down, full) + 1e-12
    assert both >= 0.4 * full


@pytest.mark.parametrize(
    ("key", "bad"),
    [
        ("seat", 0.35),
        ("drop_size_ratio", 2.1),
        ("air_ratio", 0.5),
        ("air_ratio", 3.2),
        ("delivered_share", 0.2),
        ("power_w", 35.0),
    ],
)
def test_each_ingredient_alone_keeps_it_from_lighting(key: str, bad: float) -> None:
    assert light(**{key: bad}).chance[0] < 0.2


def test_an_igniter_on_edge_glows_well_and_lights_badly() -> None:
    good, edge = light(), light(seat=0.4)
    assert edge.glow_k[0] == good.glow_k[0]
    assert edge.chance[0] < 0.5
    assert edge.delay_s[0] > 1.1 * good.delay_s[0]


def test_coarse_drops_and_cold_air_light_later() -> None:
    assert light(drop_size_ratio=1.4).delay_s[0] > 1.2 * light().delay_s[0]
    assert light(243.15).delay_s[0] > light().delay_s[0]


def test_the_glow_is_the_balance_of_its_own_surface() -> None:
    alone = steady_temperature_k(
        power_w=57.0, area_m2=4e-4, emissivity=0.9, film_w_m2_k=40.0, surroundings_k=288.15
    )
    assert light(power_w=57.0).glow_k[0] == pytest.approx(alone)


def test_no_power_no_light_and_still_a_number() -> None:
    dark = light(power_w=0.0)
    assert dark.glow_k[0] == pytest.approx(288.15)
    assert dark.chance[0] < 1e-6
    assert np.isfinite(dark.delay_s[0])
