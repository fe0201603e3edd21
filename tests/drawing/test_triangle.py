"""The combustion triangle: true to its numbers, readable at every extreme."""

from __future__ import annotations

from datetime import UTC, datetime

import pictures
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.drawing import PAGE, PAPER, triangle
from lightoff.judging.assessment import BurnPoint, Triangle
from lightoff.terms.visit import Stage
from lightoff.texts import Speaker

SAY = Speaker()
LARGEST = 0.155


def on_line(o2: float) -> float:
    return LARGEST * (1 - o2 / 0.2095)


def point(
    o2: float, co2: float, doubt: float = 0.003, stage: Stage = Stage.AS_LEFT, *, now: bool = True
) -> BurnPoint:
    return BurnPoint(
        visit="v",
        at=datetime(2026, 3, 10, tzinfo=UTC),
        stage=stage,
        o2_fraction=o2,
        o2_half_width=doubt,
        co2_fraction=co2,
        co2_half_width=2 * doubt,
        co2_is_measured=True,
        air_ratio=1.3,
        now=now,
    )


def burn(*points: BurnPoint, expected: tuple[float, float] | None = (0.041, 0.059)) -> Triangle:
    ratios = [
        (ratio, 0.2095 * (ratio - 1) / (ratio - 0.06))
        for ratio in (1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.7, 2.0, 2.5)
    ]
    steps = [0.2095 * step / 30 for step in range(31)]
    return Triangle(
        fuel="diesel_2",
        co2_largest_fraction=LARGEST,
        o2_floor_fraction=0.02,
        air_ratios=tuple((ratio, o2, on_line(o2)) for ratio, o2 in ratios),
        co_lines=tuple(
            (share, tuple((o2, on_line(o2) - share) for o2 in steps if on_line(o2) > share))
            for share in (0.01, 0.02, 0.03, 0.04)
        ),
        points=points,
        expected_o2=expected,
    )


EXTREMES = {
    "none": (),
    "plain": (point(0.048, 0.119), point(0.089, 0.088, stage=Stage.AS_FOUND)),
    "left edge": (point(0.0, 0.155), point(0.001, 0.15, stage=Stage.AS_FOUND)),
    "right edge": (point(0.2095, 0.0), point(0.205, 0.002, stage=Stage.AS_FOUND)),
    "above the line": (point(0.06, 0.16),),
    "far below": (point(0.06, 0.01),),
    "one upon the other": (point(0.048, 0.119), point(0.048, 0.119, stage=Stage.AS_FOUND)),
    "no doubt": (point(0.048, 0.119, 0.0),),
    "hopeless doubt": (point(0.048, 0.119, 0.3), point(0.05, 0.115, 0.3, Stage.AS_FOUND)),
    "many before": tuple(point(0.03 + 0.004 * n, on_line(0.03 + 0.004 * n), now=False) for n in range(12)),
}


@pytest.mark.parametrize("name", EXTREMES)
@pytest.mark.parametrize("width", [280.0, 354.0, 700.0])
def test_words_never_collide_nor_leave_the_picture(name: str, width: float) -> None:
    drawn = triangle(burn(*EXTREMES[name]), SAY, width=width)
    assert pictures.overlapping(drawn) == []
    assert pictures.outside(drawn) == []
    assert pictures.smallest_text(drawn) >= 13


@settings(max_examples=60, deadline=None)
@given(
    o2=st.floats(0, 0.2095),
    co2=st.floats(0, 0.17),
    doubt=st.floats(0, 0.05),
    found=st.floats(0, 0.2095),
    width=st.floats(280, 900),
)
def test_any_reading_can_be_drawn(o2: float, co2: float, doubt: float, found: float, width: float) -> None:
    before = point(found, on_line(found), doubt, Stage.AS_FOUND)
    drawn = triangle(burn(point(o2, co2, doubt), before), SAY, width=width)
    assert pictures.overlapping(drawn) == []
    assert pictures.outside(drawn) == []
    assert "nan" not in drawn
    assert "inf" not in drawn.split("<desc>")[0]


@pytest.mark.parametrize("name", sorted(set(EXTREMES) - {"none", "many before"}))
def test_each_point_of_this_visit_has_its_word(name: str) -> None:
    said = [each.text for each in pictures.labels(triangle(burn(*EXTREMES[name]), SAY))]
    for each in EXTREMES[name]:
        assert ("left" if each.stage is Stage.AS_LEFT else "found") in said


def test_the_ellipse_is_the_doubt_to_scale() -> None:
    drawn = pictures.parsed(triangle(burn(point(0.05, 0.115, 0.004)), SAY, width=354))
    ellipse = drawn.find(f"{pictures.SVG}ellipse")
    assert ellipse is not None
    axis = (354 - 6 - 26) / 0.10  # px a share of O2: from the left axis to the right edge, 0 to 10 %
    assert float(ellipse.get("rx", "0")) == pytest.approx(0.004 * axis, abs=0.01)
    assert float(ellipse.get("cx", "0")) == pytest.approx(26 + 0.05 * axis, abs=0.01)


def test_it_names_and_describes_itself() -> None:
    drawn = pictures.parsed(triangle(burn(*EXTREMES["plain"]), SAY))
    assert drawn.get("role") == "img"
    title, described = drawn.find(f"{pictures.SVG}title"), drawn.find(f"{pictures.SVG}desc")
    assert title is not None
    assert described is not None
    assert title.text == "Combustion triangle"
    assert (described.text or "").replace("\u00a0", " ").startswith("As left: O₂ 4.8 %, CO₂ 11.9 %")


def test_colours_are_the_pages_or_the_papers() -> None:
    assert "var(--ink)" in triangle(burn(*EXTREMES["plain"]), SAY, palette=PAGE)
    printed = triangle(burn(*EXTREMES["plain"]), SAY, palette=PAPER)
    assert "var(" not in printed
    assert PAPER.ink in printed


def test_without_a_word_of_what_is_expected_no_band_is_drawn() -> None:
    assert PAPER.tint not in triangle(burn(expected=None), SAY, palette=PAPER)
    assert PAPER.tint in triangle(burn(), SAY, palette=PAPER)
