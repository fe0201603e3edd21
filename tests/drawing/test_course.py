"""Still good by age: steps, whiskers, band and dashes, each at its numbers, and words that keep apart."""

from __future__ import annotations

import pictures
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.drawing import PAPER, CourseWords, Step, course
from lightoff.drawing.course import HEIGHT_PX, ticks_of
from lightoff.ground.estimate import Estimate

WORDS = CourseWords(
    title="Igniter: still good by age",
    description="At 2,000 starts 70 of 100.",
    ages="run hours",
    at_risk="watched",
    seen="seen",
    possible="possible",
    judged="as judged",
)


def share(value: float, half: float = 0.1) -> Estimate:
    return Estimate(value=value, low=max(value - half, 0.0), high=min(value + half, 1.0), coverage=0.95)


def drawn(values: list[float], *, width: float = 660.0) -> str:
    steps = [Step(age=100.0 * (at + 1), value=share(each), at_risk=60 - at) for at, each in enumerate(values)]
    ages = [100.0 * at for at in range(len(values) + 2)]
    smooth = [(age, share(0.95 - 0.4 * age / ages[-1], 0.08)) for age in ages]
    judged = [(age, 1.0 - 0.8 * age / ages[-1]) for age in ages]
    return course(
        steps,
        WORDS,
        oldest=ages[-1],
        possible=smooth,
        judged=judged,
        as_value=lambda each: f"{100 * each:.0f} %",
        as_age=lambda age: f"{age:,.0f}",
        width=width,
        palette=PAPER,
    )


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=30), st.sampled_from([334.0, 660.0]))
def test_words_keep_apart_and_inside_whatever_was_seen(values: list[float], width: float) -> None:
    picture = drawn(sorted(values, reverse=True), width=width)
    assert not pictures.overlapping(picture)
    assert not pictures.outside(picture)
    assert pictures.smallest_text(picture) >= 13


def test_the_steps_stand_at_their_ages_and_shares() -> None:
    picture = drawn([0.9, 0.6, 0.3])
    (steps,) = (
        each
        for each in pictures.parsed(picture).iter(f"{pictures.SVG}polyline")
        if each.get("stroke-width") == "2.5"
    )
    points = [tuple(map(float, each.split(","))) for each in str(steps.get("points")).split()]
    assert len(points) == 2 * 3 + 2
    top, foot = points[0][1], HEIGHT_PX - 44.0
    for at, value in enumerate((0.9, 0.6, 0.3)):
        x, y = points[2 + 2 * at]
        assert (foot - y) / (foot - top) == pytest.approx(value, abs=1e-3)
        assert (x - points[0][0]) / (points[-1][0] - points[0][0]) == pytest.approx((at + 1) / 4.0, abs=1e-3)


def test_it_names_each_line_and_says_how_many_were_watched() -> None:
    texts = {each.text for each in pictures.labels(drawn([0.9, 0.6, 0.3]))}
    assert {"seen", "possible", "as judged", "watched", "run hours", "60", "59", "58"} <= texts


@given(st.floats(0.02, 1e5))
def test_the_ages_of_the_scale_are_round_and_few(oldest: float) -> None:
    ticks = ticks_of(oldest)
    assert 2 <= len(ticks) <= 7
    assert ticks[0] == 0.0
    assert ticks[-1] <= oldest * (1.0 + 1e-9)
