"""How many months a fitted piece outlasts with a given chance."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.ground.errors import Refusal
from lightoff.wear.lives import Clock
from lightoff.wear.posterior import LifePosterior, LifePrior, Use, known_life, possible_lives

CHANCES = (0.9, 0.5, 0.1)
AGES = st.floats(0.0, 4000.0)


@pytest.fixture(scope="module")
def held() -> LifePosterior:
    prior = LifePrior(
        clock=Clock.RUN_HOURS, life=2000.0, life_spread=0.7, shape=2.0, shape_spread=0.4, basis="a test"
    )
    return possible_lives((), prior, others={})


@pytest.mark.parametrize(("age", "chance"), [(0.0, 0.5), (700.0, 0.9), (5000.0, 0.1)])
def test_a_constant_rate_forgets_its_age(age: float, chance: float) -> None:
    """Of the exponential law: -ln(chance) lives, whatever the age."""
    lives = known_life(clock=Clock.RUN_HOURS, life=1000.0, shape=1.0)
    (months,) = lives.months_left(age=age, pace=Use(clock=Clock.RUN_HOURS, expected=50.0), chances=[chance])
    assert months == pytest.approx(-math.log(chance) * 1000.0 / 50.0, rel=2e-3)


@settings(max_examples=40, deadline=None)
@given(age=AGES, pace=st.floats(1.0, 200.0))
def test_it_is_the_chance_to_last_turned_round(held: LifePosterior, age: float, pace: float) -> None:
    months = held.months_left(age=age, pace=Use(clock=Clock.RUN_HOURS, expected=pace), chances=CHANCES)
    for month, chance in zip(months, CHANCES, strict=True):
        use = Use(clock=Clock.RUN_HOURS, expected=month * pace)
        assert held.chance_to_last(age=age, use=use).value == pytest.approx(chance, abs=2e-3)


@settings(max_examples=40, deadline=None)
@given(age=AGES, spread=st.floats(0.0, 0.8))
def test_a_smaller_chance_is_longer_and_a_wider_pace_widens(
    held: LifePosterior, age: float, spread: float
) -> None:
    sharp = held.months_left(age=age, pace=Use(clock=Clock.RUN_HOURS, expected=40.0), chances=CHANCES)
    wide = held.months_left(
        age=age, pace=Use(clock=Clock.RUN_HOURS, expected=40.0, spread=spread), chances=CHANCES
    )
    assert sharp[0] < sharp[1] < sharp[2]
    assert wide[0] < wide[1] < wide[2]
    assert wide[2] / wide[0] >= sharp[2] / sharp[0] * 0.99


def test_a_pace_of_another_clock_is_refused(held: LifePosterior) -> None:
    with pytest.raises(Refusal):
        held.months_left(age=1.0, pace=Use(clock=Clock.STARTS, expected=1.0), chances=CHANCES)
