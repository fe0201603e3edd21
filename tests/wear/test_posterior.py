"""Possible lives: calibrated, never forgetting late entry, leaning on other heaters as far as stated."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))

import drawn_lives as drawn

from lightoff.ground.errors import Declined, Refusal
from lightoff.ground.estimate import Estimate
from lightoff.texts import Speaker
from lightoff.wear.fitting import fit_lives
from lightoff.wear.lives import Clock, Life
from lightoff.wear.posterior import LifePrior, Use, known_life, possible_lives

HOURS = Clock.RUN_HOURS
PRIOR = LifePrior(
    clock=HOURS, life=2000, life_spread=0.7, shape=2.0, shape_spread=0.4, basis="made up for the tests"
)
SEEDS = st.integers(min_value=0, max_value=10_000)


def season(hours: float, spread: float = 0.0) -> Use:
    return Use(clock=HOURS, expected=hours, spread=spread)


@given(seed=SEEDS, age=st.floats(0.0, 4000.0), use=st.floats(1.0, 3000.0), more=st.floats(1.01, 3.0))
@settings(max_examples=25, deadline=None)
def test_a_longer_season_is_never_likelier_to_be_outlived(seed, age, use, more) -> None:
    lives = possible_lives(drawn.fleet(seed, count=5, shape=2.0, life=1500.0), PRIOR)
    short, long = (
        lives.chance_to_last(age=age, use=season(use)),
        lives.chance_to_last(age=age, use=season(use * more)),
    )
    assert long.value < short.value
    assert long.low <= short.low
    assert 0.0 <= short.low <= short.value <= short.high <= 1.0


@given(seed=SEEDS)
@settings(max_examples=20, deadline=None)
def test_late_entry_is_never_ignored(seed: int) -> None:
    fleet = drawn.fleet(seed, count=8, shape=2.0, life=1500.0, late=1.0)
    right, wrong = (
        possible_lives(fleet, PRIOR),
        possible_lives([replace(e, entered=0.0) for e in fleet], PRIOR),
    )
    for age in (300.0, 1000.0):
        assert right.survival([age])[0].value < wrong.survival([age])[0].value


@given(seed=SEEDS)
@settings(max_examples=20, deadline=None)
def test_a_failure_instead_of_going_on_never_lengthens_life(seed: int) -> None:
    fleet = drawn.fleet(seed, count=6, shape=2.0, life=1500.0)
    good = [at for at, each in enumerate(fleet) if not each.failed]
    if not good:
        return
    each = fleet[good[0]]
    worse = [*fleet[: good[0]], replace(each, right=each.left), *fleet[good[0] + 1 :]]
    before, after = possible_lives(fleet, PRIOR), possible_lives(worse, PRIOR)
    assert after.survival([each.left])[0].value < before.survival([each.left])[0].value
    assert possible_lives([*fleet, Life.good_at(2000, clock=HOURS)], PRIOR).survival([2000])[0].value > (
        before.survival([2000])[0].value
    )


@given(seed=SEEDS, factor=st.sampled_from([1 / 60, 3.7, 3600.0]))
@settings(max_examples=10, deadline=None)
def test_another_unit_of_the_clock_changes_no_chance(seed: int, factor: float) -> None:
    fleet = drawn.fleet(seed, count=6, shape=2.0, life=1500.0)
    other = [
        replace(
            e,
            left=e.left * factor,
            entered=e.entered * factor,
            right=None if e.right is None else e.right * factor,
        )
        for e in fleet
    ]
    one = possible_lives(fleet, PRIOR).chance_to_last(age=500, use=season(400, 0.3))
    two = possible_lives(other[::-1], replace(PRIOR, life=PRIOR.life * factor)).chance_to_last(
        age=500 * factor, use=season(400 * factor, 0.3)
    )
    assert two.value == pytest.approx(one.value, rel=1e-6)
    assert two.low == pytest.approx(one.low, rel=1e-6)


def test_truths_drawn_from_the_prior_are_held_as_often_as_promised() -> None:
    """250 heater types with a truth each: nine in ten intervals hold it, and chances come true."""
    draw = np.random.default_rng(11)
    count, held, due, came = 250, np.zeros(3), 0.0, 0.0
    for seed in range(count):
        life = PRIOR.life * np.exp(PRIOR.life_spread * draw.normal())
        shape = PRIOR.shape * np.exp(PRIOR.shape_spread * draw.normal())
        fleet = drawn.fleet(seed, count=int(draw.integers(1, 12)), shape=shape, life=life, pace=1500.0)
        found = possible_lives(fleet, PRIOR)
        held += (found.life().holds(life), found.shape().holds(shape), 0)
        truth = known_life(clock=HOURS, life=life, shape=shape).chance_to_last(age=800, use=season(500)).value
        lasts = found.chance_to_last(age=800, use=season(500))
        held[2] += lasts.holds(truth)
        due, came = due + lasts.value, came + truth
    assert np.all(held > 0.84 * count), held
    assert np.all(held < 0.96 * count), held
    assert came / count == pytest.approx(due / count, abs=0.04)


def test_many_failures_outweigh_the_prior_and_few_do_not() -> None:
    far = drawn.fleet(3, count=400, shape=3.0, life=9000.0)
    fit, found = fit_lives(far), possible_lives(far, PRIOR)
    assert found.life().value == pytest.approx(fit.best_life, rel=0.01)
    assert found.shape().value == pytest.approx(fit.best_shape, rel=0.03)
    assert found.surprise > 2.0
    assert "far longer here" in Speaker().say(found.says()[-1])
    one = possible_lives(far[:1], PRIOR).life()
    assert one.high / one.low > 4.0


def test_heater_types_lean_on_each_other_as_far_as_they_have_no_own_failures() -> None:
    others = {f"type {n}": drawn.fleet(n, count=30, shape=2.5, life=700.0) for n in range(3)}
    alone, leaning = possible_lives([], PRIOR), possible_lives([], PRIOR, others=others)
    assert alone.life().value == pytest.approx(2000, rel=0.01)
    assert leaning.life().value == pytest.approx(700, rel=0.15)
    # Another heater type may differ: never surer than types scatter.
    assert leaning.life().high / leaning.life().low > np.exp(2 * 1.645 * PRIOR.heater_spread) * 0.98
    own = drawn.fleet(9, count=200, shape=2.5, life=3000.0)
    assert possible_lives(own, PRIOR, others=others).life().value == pytest.approx(
        possible_lives(own, PRIOR).life().value, rel=0.04
    )
    said = [Speaker().say(each) for each in leaning.says()]
    assert any("failures seen in other types" in each and "made up for the tests" in each for each in said)


def test_without_other_types_a_hierarchy_changes_nothing() -> None:
    own = drawn.fleet(2, count=6, shape=2.0, life=1500.0)
    empty = possible_lives(own, PRIOR, others={"none": []})
    assert empty.life() == possible_lives(own, PRIOR).life()
    # One other piece that was never watched teaches nothing: the scatter on the grid is the stated one.
    blank = possible_lives(own, PRIOR, others={"one": [Life.good_at(0.0, clock=HOURS)]})
    assert blank.life().value == pytest.approx(empty.life().value, rel=1e-3)
    assert blank.life().low == pytest.approx(empty.life().low, rel=1e-3)


def test_no_failure_is_told_to_rest_on_judgement() -> None:
    found = possible_lives([Life.good_at(300, clock=HOURS)], PRIOR)
    assert "rests on a judgement" in Speaker().say(found.says()[-1])


def test_lives_that_no_allowed_life_could_give_are_told() -> None:
    steep = replace(PRIOR, life=1.0, life_spread=0.4, shape=60.0, shape_spread=0.05)
    with pytest.raises(Declined) as declined:
        possible_lives([Life.failed_between(1e8, 2e8, clock=HOURS)], steep)
    assert "Look at their ages and clock" in Speaker().say(declined.value.message)


def test_an_uncertain_season_widens_the_interval() -> None:
    lives = possible_lives(drawn.fleet(2, count=40, shape=3.0, life=1500.0), PRIOR)
    sure, unsure = (lives.chance_to_last(age=900, use=season(400, spread)) for spread in (0.0, 0.5))
    assert unsure.high - unsure.low > 1.2 * (sure.high - sure.low)


def test_an_estimated_age_widens_the_interval() -> None:
    lives = known_life(clock=HOURS, life=1500, shape=3.0)
    sure = lives.chance_to_last(age=900, use=season(400))
    assert lives.chance_to_last(age=Estimate.exact(900.0), use=season(400)) == sure
    guess = Estimate(value=900.0, low=600.0, high=1200.0, coverage=0.95)
    unsure = lives.chance_to_last(age=guess, use=season(400))
    draw = np.random.default_rng(1)
    ages = np.maximum(900.0 + 300.0 / 1.959964 * draw.normal(size=20_000), 0.0)
    truth = np.exp((ages / 1500) ** 3 - ((ages + 400) / 1500) ** 3)
    assert unsure.value == pytest.approx(truth.mean(), abs=2e-3)
    assert sure.half_width == 0.0
    assert unsure.low == pytest.approx(np.quantile(truth, 0.05), abs=0.04)
    assert unsure.high == pytest.approx(np.quantile(truth, 0.95), abs=0.04)


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda p: p.chance_to_last(age=1, use=Use(clock=Clock.STARTS, expected=5)), "different clocks"),
        (lambda p: p.chance_to_last(age=-1, use=season(5)), "from nought up"),
        (lambda p: p.chance_to_last(age=1, use=season(0)), "above nought"),
        (lambda p: replace(PRIOR, life=0.0), "above nought"),
        (lambda p: replace(PRIOR, heater_spread=0.8), "Widen it"),
        (lambda p: possible_lives([Life.good_at(5, clock=Clock.STARTS)], PRIOR), "different clocks"),
    ],
)
def test_what_cannot_be_asked_is_refused(ask, words) -> None:
    with pytest.raises(Refusal) as refused:
        ask(possible_lives([], PRIOR))
    assert words in Speaker().say(refused.value.message)
