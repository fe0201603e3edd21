"""Timeline and trend on their shared axis."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pictures
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.drawing import TimeAxis, TimelineVisit, TrendPoint, timeline, trend
from lightoff.ground.estimate import Estimate
from lightoff.judging.assessment import Verdict
from lightoff.texts import Speaker

SAY = Speaker()
START, END = datetime(2024, 2, 1, tzinfo=UTC), datetime(2028, 3, 1, tzinfo=UTC)
AXIS = TimeAxis(start=START, end=END)
DAYS = st.integers(0, 1480).map(lambda days: START + timedelta(days=days))


def estimate(value: float, half: float = 2.0) -> Estimate:
    return Estimate.from_half_width(value, half)


def test_the_axis_runs_evenly_from_start_to_end() -> None:
    assert AXIS.at(START) == AXIS.left
    assert AXIS.at(END) == AXIS.right
    assert AXIS.at(START + (END - START) / 2) == pytest.approx((AXIS.left + AXIS.right) / 2)
    assert [year for year, _ in AXIS.years()] == [2025, 2026, 2027, 2028]
    with pytest.raises(ValueError, match="must end after it starts"):
        TimeAxis(start=END, end=START)


@settings(max_examples=60, deadline=None)
@given(moments=st.lists(DAYS, max_size=14), now=st.booleans())
def test_words_of_a_timeline_never_collide(moments: list[datetime], now: bool) -> None:
    visits = [
        TimelineVisit(at=at, verdict=verdict, words="igniter renewed", now=now)
        for at, verdict in zip(moments, list(Verdict) * 4, strict=False)
    ]
    drawn = timeline(visits, SAY, axis=AXIS, due=(END - timedelta(days=150), END - timedelta(days=90)))
    assert pictures.overlapping(drawn) == []
    assert pictures.touching(drawn) == []
    assert pictures.outside(drawn) == []
    assert pictures.smallest_text(drawn) >= 13


def test_each_verdict_has_its_own_shape_and_the_next_visit_glows() -> None:
    def shapes(verdict: Verdict) -> str:
        return timeline([TimelineVisit(at=START, verdict=verdict)], SAY, axis=AXIS)

    assert len({shapes(verdict).split("<desc>")[1].split("</desc>")[1] for verdict in Verdict}) == 4
    visit = [TimelineVisit(at=START, verdict=Verdict.FIT)]
    assert "var(--ember)" not in timeline(visit, SAY, axis=AXIS)
    assert "var(--ember)" in timeline(visit, SAY, axis=AXIS, due=(END - timedelta(90), END))


def test_a_timeline_tells_day_and_verdict() -> None:
    drawn = timeline(
        [TimelineVisit(at=datetime(2025, 11, 25, tzinfo=UTC), verdict=Verdict.STOP)], SAY, axis=AXIS
    )
    assert "25 November 2025: stop." in drawn


def test_days_are_those_of_the_readers_clock() -> None:
    late = datetime(2026, 1, 1, 3, tzinfo=UTC)
    west = Speaker(zone=timezone(timedelta(hours=-7)))
    drawn = timeline([TimelineVisit(at=late, verdict=Verdict.STOP, words="closed")], west, axis=AXIS)
    assert "31 December 2025: stop." in drawn
    assert "Dec 25" in drawn
    point = TrendPoint(at=late, left=estimate(500.0), found=None, expected=None)
    drawn = trend([point], west, key="stack_gas_temperature", dimension="temperature", axis=AXIS)
    assert "31 December 2025" in drawn


POINTS = st.builds(
    TrendPoint,
    at=DAYS,
    left=st.none() | st.floats(450, 560).map(estimate),
    found=st.none() | st.floats(450, 560).map(estimate),
    expected=st.none()
    | st.floats(470, 500).map(lambda low: Estimate(value=low + 9, low=low, high=low + 30, coverage=0.95)),
    words=st.sampled_from(["", "then renewed"]),
)


@settings(max_examples=80, deadline=None)
@given(points=st.lists(POINTS, max_size=12))
def test_words_of_a_trend_never_collide(points: list[TrendPoint]) -> None:
    drawn = trend(points, SAY, key="stack_gas_temperature", dimension="temperature", axis=AXIS)
    assert pictures.overlapping(drawn) == []
    assert pictures.outside(drawn) == []


def test_a_trend_shows_one_flat_tick_a_reading_and_tells_it() -> None:
    points = [
        TrendPoint(at=START + timedelta(300), left=estimate(500), found=estimate(520)),
        TrendPoint(at=START + timedelta(700), left=estimate(505)),
    ]
    drawn = trend(points, SAY, key="stack_gas_temperature", dimension="temperature", axis=AXIS)
    root = pictures.parsed(drawn)
    assert sum(each.get("stroke-width") == "5.5" for each in root.iter(f"{pictures.SVG}line")) == 2
    assert len(list(root.iter(f"{pictures.SVG}rect"))) == 1
    assert "as found 247, as left 227" in drawn
