"""Curves: they count who is at risk, never ignore late entry, and say where they are thin."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))

import drawn_lives as drawn

from lightoff.ground.errors import Refusal
from lightoff.texts import Speaker
from lightoff.wear.fleet import cumulative_incidence, survival_curve
from lightoff.wear.lives import Clock, Life

HOURS = Clock.RUN_HOURS
SEEDS = st.integers(min_value=0, max_value=10_000)


@given(seed=SEEDS)
@settings(max_examples=30, deadline=None)
def test_a_curve_falls_within_its_band_and_order_does_not_matter(seed: int) -> None:
    lives = drawn.fleet(seed, count=15, shape=2.0, life=1000.0)
    curve = survival_curve(lives)
    steps = curve.steps
    assert np.all(np.diff(steps.survival) <= 0.0)
    assert np.all((steps.low <= steps.survival) & (steps.survival <= steps.high))
    assert np.all((steps.low >= 0.0) & (steps.high <= 1.0))
    assert steps.failures.sum() == curve.failure_count
    again = survival_curve(lives[::-1]).steps
    assert np.array_equal(again.survival, steps.survival)
    assert np.array_equal(again.high, steps.high)
    doubled = survival_curve([replace(each, count=2) for each in lives]).steps
    assert doubled.survival == pytest.approx(steps.survival, abs=1e-12)


@given(seed=SEEDS)
@settings(max_examples=30, deadline=None)
def test_late_entry_is_never_ignored(seed: int) -> None:
    lives = drawn.fleet(seed, count=25, shape=2.0, life=1000.0, late=1.0, inspected=0.0)
    right = survival_curve(lives).steps
    wrong = survival_curve([replace(each, entered=0.0) for each in lives]).steps
    if right.ages.size:
        assert np.all(wrong.survival >= right.survival - 1e-12)
        assert wrong.survival[-1] > right.survival[-1] or right.survival[-1] == 0.0


def test_a_known_truth_is_held_as_often_as_promised() -> None:
    held = count = 0
    for seed in range(200):
        steps = survival_curve(
            drawn.fleet(seed, count=40, shape=2.0, life=1000.0, inspected=0.0, late=0.3, watch=1.5)
        ).steps
        count += 1
        held += steps.at(700.0).holds(np.exp(-0.49))
    assert held >= 0.91 * count


def test_what_was_found_at_an_inspection_is_placed_and_said() -> None:
    lives = [
        Life.failed_between(400, 600, clock=HOURS),
        Life.failed_at(450, clock=HOURS),
        Life.good_at(900, clock=HOURS),
    ]
    curve = survival_curve(lives)
    assert curve.steps.ages.tolist() == [450.0, 500.0]
    assert curve.placed_count == 1
    said = " ".join(Speaker().say(each) for each in curve.says(500))
    assert "At 500 run hours about 33 in 100 (1 to 77) are still good. Failures seen: 2" in said
    assert "Failures found at an inspection: 1." in said
    assert "Under observation at that age: 2." in said


def test_a_risk_set_that_ran_empty_is_told() -> None:
    lives = [Life.failed_at(100, clock=HOURS), Life.good_at(900, clock=HOURS, entered=300)]
    curve = survival_curve(lives)
    assert curve.ran_empty
    assert curve.steps.at(500).high == 1.0
    assert curve.steps.at(500).low == 0.0
    assert "no use from there on" in " ".join(Speaker().say(each) for each in curve.says(500))


def test_nothing_failed_is_all_good() -> None:
    curve = survival_curve([Life.good_at(900, clock=HOURS)])
    assert curve.steps.at(500).value == 1.0
    assert curve.at_risk(500) == 0


@given(seed=SEEDS)
@settings(max_examples=20, deadline=None)
def test_causes_add_up_to_what_failed(seed: int) -> None:
    draw = np.random.default_rng(seed)
    lives = [
        replace(each, cause=str(draw.choice(["broken", "aged", "wet"]))) if each.failed else each
        for each in drawn.fleet(seed, count=20, shape=2.0, life=1000.0)
    ]
    found, steps = cumulative_incidence(lives), survival_curve(lives).steps
    if steps.ages.size:
        assert sum(found.by_cause.values()) == pytest.approx(1.0 - steps.survival, abs=1e-12)


def test_a_failure_without_its_cause_is_refused() -> None:
    with pytest.raises(Refusal) as refused:
        cumulative_incidence([Life.failed_at(5, clock=HOURS)])
    assert "without its cause" in Speaker().say(refused.value.message)
