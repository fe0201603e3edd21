"""One part's pieces and what is to come, on the axis of its heater."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pictures
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.drawing import TimeAxis, part_life

START, NOW, END = (datetime(year, 6, 1, tzinfo=UTC) for year in (2024, 2026, 2027))
DESK = TimeAxis(start=START, end=END, width=660, left=44, right=650)
PHONE = TimeAxis(start=START, end=END, width=334, left=34, right=328)
DAYS = st.integers(1, 4000)


def drawn(
    axis: TimeAxis, *days: int, since: datetime = START, words: str = "about 1,300 run hours left"
) -> str:
    first, middle, last = (NOW + timedelta(days=each) for each in days)
    return part_life(
        since,
        earlier=[(START - timedelta(days=90), START)],
        ends=(first, middle, last),
        now=NOW,
        axis=axis,
        words=words,
        title="Igniter: its life",
        description="told",
    )


@pytest.mark.parametrize("axis", [DESK, PHONE])
@settings(max_examples=60, deadline=None)
@given(days=st.lists(DAYS, min_size=3, max_size=3).map(sorted), since=st.integers(0, 900))
def test_nothing_leaves_the_picture(axis: TimeAxis, days: list[int], since: int) -> None:
    picture = drawn(axis, *days, since=NOW - timedelta(days=since))
    assert pictures.outside(picture) == []
    assert pictures.smallest_text(picture) >= 13


def test_what_lies_beyond_the_axis_is_left_out() -> None:
    """All within: tint, and the tick of the middle. The last beyond: no bracket. All beyond: neither."""
    every = (60, 120, 200), (60, 120, 900), (500, 900, 1500)
    within, over, beyond = (drawn(DESK, *days) for days in every)
    assert [each.count("var(--tint)") for each in (within, over, beyond)] == [1, 1, 0]
    assert [each.count('stroke-width="5.5"') for each in (within, over, beyond)] == [1, 1, 0]
    assert within.count('stroke-width="1.75"') == over.count('stroke-width="1.75"') + 1
    assert all("stroke-dasharray" in each for each in (within, over, beyond))


def test_of_an_unknown_age_nothing_is_foretold() -> None:
    picture = part_life(
        START, now=NOW, axis=DESK, words="age not known", title="Igniter: its life", description="told"
    )
    assert "stroke-dasharray" not in picture
    assert "var(--tint)" not in picture
    assert "age not known" in picture
