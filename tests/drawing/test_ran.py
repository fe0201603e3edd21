"""How far a heater ran, drawn: words apart, doubt inside the picture, each evidence its own stroke."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pictures
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.drawing import RanStretch, TimeAxis, ran
from lightoff.ground.estimate import Estimate

START = datetime(2021, 3, 1, tzinfo=UTC)


def drawn(lengths: list[int], hours: list[float], lines: list[str], *, width: float = 660.0) -> str:
    at, told, stretches = START, Estimate(value=0.0, low=0.0, high=0.0, coverage=0.95), []
    for days, more, line in zip(lengths, hours, lines, strict=True):
        after = Estimate(
            value=told.value + more, low=told.low + 0.5 * more, high=told.high + 2 * more, coverage=0.95
        )
        end = at + timedelta(days=days)
        stretches.append(RanStretch(start=at, end=end, at_start=told, at_end=after, line=line))
        at, told = end, after
    axis = TimeAxis(start=START, end=at, width=width, left=6.0, right=width - 90.0)
    return ran(stretches, axis=axis, title="Run hours", description="so far", last=f"{told.value:,.0f} h")


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(1, 900), st.floats(0, 4000), st.sampled_from(["solid", "thick", "dashed"])),
        min_size=1,
        max_size=12,
    ),
    st.sampled_from([660.0, 334.0]),
)
def test_no_word_lies_on_another_or_outside(rows: list[tuple[int, float, str]], width: float) -> None:
    picture = drawn([row[0] for row in rows], [row[1] for row in rows], [row[2] for row in rows], width=width)
    assert pictures.overlapping(picture) == []
    assert pictures.outside(picture) == []
    assert pictures.smallest_text(picture) >= 13


def test_each_evidence_has_its_own_stroke() -> None:
    picture = drawn([300, 5, 300], [400.0, 60.0, 300.0], ["solid", "thick", "dashed"])
    assert picture.count('stroke-dasharray="5 5"') == 1
    assert picture.count('stroke-width="5.5"') == 1
    assert picture.count('stroke-width="9"') == 1  # the log's mark on the axis
    assert "760 h" in picture
