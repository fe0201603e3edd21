"""Rounded steps and corners."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from lightoff.heater.soft import above_zero, log_odds, step

anything = st.floats(-1e6, 1e6)


@given(x=anything, more=st.floats(0.0, 10.0))
def test_a_step_is_a_chance_that_rises_and_mirrors(x: float, more: float) -> None:
    low, high = step(np.array([x, x + more]))
    assert 0.0 <= low <= high <= 1.0
    assert step(np.array([-x]))[0] == 1.0 - low or abs(step(np.array([-x]))[0] + low - 1.0) < 1e-12


@given(chance=st.floats(1e-6, 1.0 - 1e-6))
def test_log_odds_is_a_step_turned_round(chance: float) -> None:
    assert abs(step(log_odds(np.array([chance])))[0] - chance) < 1e-9


@given(x=st.floats(-50.0, 50.0), width=st.floats(0.01, 5.0))
def test_a_rounded_corner_lies_above_the_sharp_one_and_splits_x(x: float, width: float) -> None:
    up, down = above_zero(np.array([x]), width)[0], above_zero(np.array([-x]), width)[0]
    assert max(x, 0.0) <= up <= max(x, 0.0) + width * np.log(2.0) + 1e-12
    assert abs((up - down) - x) < 1e-9
