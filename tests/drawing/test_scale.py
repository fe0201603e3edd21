"""A number on its own scale: where its ticks, whisker, band and hatch stand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pictures
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.drawing import PAPER, scale, scale_ends, scale_words
from lightoff.ground.estimate import Estimate
from lightoff.judging.assessment import Figure
from lightoff.terms.shelf import Comparison, Gate, Limit
from lightoff.terms.visit import Stage
from lightoff.texts import Speaker

SAY = Speaker()


def limit(comparison: Comparison, value: str, unit: str = "ppm", **more: object) -> Limit:
    return Limit(
        key="k",
        quantity="co_air_free",
        comparison=comparison,
        gate=Gate.LIMIT,
        effect="not fit",
        basis="practice",
        source="common practice, no source",
        value=Decimal(value),
        unit=unit,
        **more,
    )  # type: ignore[arg-type]


MOST = limit(Comparison.AT_MOST, "200")


def figure(value: float, half: float = 10e-6, **more: object) -> Figure:
    words: dict[str, object] = {
        "key": "co_air_free",
        "dimension": "trace_gas_fraction",
        "stage": Stage.AS_LEFT,
        "limit": MOST,
        "expected": Estimate(value=40e-6, low=5e-6, high=90e-6, coverage=0.95),
        **more,
    }
    return Figure(estimate=Estimate.from_half_width(value, half), **words)  # type: ignore[arg-type]


def lines(drawn: str, stroke_width: str) -> list[tuple[float, float, float, float]]:
    return [
        tuple(float(each.get(end, "0")) for end in ("x1", "y1", "x2", "y2"))  # type: ignore[misc]
        for each in pictures.parsed(drawn).iter(f"{pictures.SVG}line")
        if each.get("stroke-width") == stroke_width
    ]


def test_the_solid_tick_stands_at_the_value() -> None:
    left = figure(50e-6)
    low, high = scale_ends([left], dimension=left.dimension)
    (tick,) = lines(scale(left, SAY, width=206), "5.5")
    assert tick[0] == tick[2] == pytest.approx(3 + 200 * (50e-6 - low) / (high - low), abs=0.01)


def test_the_whisker_is_the_doubt_and_stands_only_where_it_is_wider_than_the_tick() -> None:
    (whisker,) = lines(scale(figure(50e-6, 30e-6), SAY, width=206), "5")
    low, high = scale_ends([figure(50e-6, 30e-6)], dimension="trace_gas_fraction")
    assert whisker[2] - whisker[0] == pytest.approx(200 * 60e-6 / (high - low), abs=0.02)
    assert lines(scale(figure(50e-6, 0.1e-6), SAY, width=206), "5") == []


def test_open_as_found_and_solid_as_left() -> None:
    both = scale(figure(50e-6), SAY, found=replace(figure(310e-6), stage=Stage.AS_FOUND), palette=PAPER)
    opened = [
        each
        for each in pictures.parsed(both).iter(f"{pictures.SVG}rect")
        if each.get("stroke") == PAPER.ink and each.get("fill") == PAPER.ground
    ]
    assert len(opened) == 1
    assert len(lines(both, "5.5")) == 1
    alone = scale(None, SAY, found=figure(310e-6))
    assert lines(alone, "5.5") == []


@pytest.mark.parametrize(
    ("row", "caption"),
    [
        (MOST, "expected 5 to 90, limit 200"),
        (limit(Comparison.BELOW, "9"), "expected 5 to 90, limit 9"),
        (limit(Comparison.AT_LEAST, "2"), "expected 5 to 90, never below 2"),
        (limit(Comparison.AT_LEAST, "5"), "expected up to 90, never below 5"),
        (
            limit(Comparison.EQUALS_WITHIN, "50", tolerance=Decimal("5")),
            "expected 5 to 90, never below 45, limit 55",
        ),
        (None, "expected 5 to 90"),
    ],
)
def test_the_caption_tells_band_and_limit(row: Limit | None, caption: str) -> None:
    drawn = scale(figure(50e-6, limit=row), SAY, width=400)
    assert [each.text for each in pictures.labels(drawn)] == [caption]
    assert (drawn.count("<path") > 0) is (row is not None)


def test_a_band_by_the_sheet_says_so() -> None:
    drawn = scale(figure(50e-6, by_sheet=True), SAY, width=400)
    assert [each.text for each in pictures.labels(drawn)] == ["by its sheet 5 to 90, limit 200"]


def test_a_caption_that_does_not_fit_takes_two_lines() -> None:
    drawn = scale(figure(50e-6), SAY, width=150)
    assert [each.text for each in pictures.labels(drawn)] == ["expected 5 to 90", "limit 200"]


def test_it_needs_a_figure_and_only_one_kind() -> None:
    with pytest.raises(ValueError, match="needs one figure"):
        scale(None, SAY)
    with pytest.raises(ValueError, match="both of one key"):
        scale(figure(1e-6), SAY, found=figure(1e-6, key="flue_co"))


def test_words_for_those_who_cannot_see_it() -> None:
    said = scale_words(figure(50e-6), SAY, found=figure(310e-6))
    assert said == "as left 50 ppm, as found 310 ppm, expected 5 to 90, limit 200."


@settings(max_examples=80, deadline=None)
@given(
    left=st.floats(0, 0.01),
    found=st.floats(0, 0.01),
    half=st.floats(0, 0.002),
    width=st.floats(140, 500),
    bare=st.booleans(),
)
def test_nothing_collides_or_leaves_the_strip(
    left: float, found: float, half: float, width: float, bare: bool
) -> None:
    more: dict[str, object] = {"limit": None, "expected": None} if bare else {}
    drawn = scale(figure(left, half, **more), SAY, found=figure(found, half, **more), width=width, marks=True)
    assert pictures.overlapping(drawn) == []
    assert [each for each in pictures.outside(drawn) if each in ("left", "found")] == []
    assert pictures.smallest_text(drawn) >= 13
    for x1, _, x2, _ in lines(drawn, "5.5") + lines(drawn, "5"):
        assert 0 <= x1 <= width
        assert 0 <= x2 <= width


@pytest.mark.parametrize("comparison", [Comparison.AT_MOST, Comparison.AT_LEAST])
def test_no_band_covers_a_limit(comparison: Comparison) -> None:
    """What is expected may reach beyond a limit; the limit and its hatch lie over it."""
    wide = Estimate(value=150e-6, low=50e-6, high=400e-6, coverage=0.95)
    drawn = scale(figure(100e-6, limit=limit(comparison, "200"), expected=wide), SAY, palette=PAPER)
    band = drawn.index(f'fill="{PAPER.tint}"')
    edge = drawn.index('stroke-width="2.5"')
    assert band < edge
    assert drawn.index(f'stroke="{PAPER.second}"', band) < edge
