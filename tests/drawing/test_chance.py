"""The strip of a chance: tick, whisker, and the words above all strips."""

from __future__ import annotations

import pictures
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.drawing import PAPER, chance, chance_legend
from lightoff.faultfinding.telling import chance_word
from lightoff.texts import Speaker

SAY = Speaker()
SHARES = st.floats(0.0, 1.0)
WORDS = ["hardly", "possible", "even", "likely", "nearly sure"]


def uprights(drawn: str, stroke_width: str) -> list[float]:
    return [
        float(each.get("x1", "0"))
        for each in pictures.parsed(drawn).iter(f"{pictures.SVG}line")
        if each.get("stroke-width") == stroke_width and each.get("x1") == each.get("x2")
    ]


@given(SHARES, SHARES, SHARES)
def test_the_tick_stands_where_the_chance_lies_within_its_whisker(
    one: float, two: float, three: float
) -> None:
    low, value, high = sorted((one, two, three))
    drawn = chance(value, low, high, SAY, title="Aged igniter", width=334.0)
    (tick,) = uprights(drawn, "5")
    assert tick == pytest.approx(2.0 + 330.0 * value, abs=0.06)
    across = [
        (float(each.get("x1", "0")), float(each.get("x2", "0")))
        for each in pictures.parsed(drawn).iter(f"{pictures.SVG}line")
        if each.get("stroke-width") == "4"
    ]
    if across:
        ((start, end),) = across
        assert start - 0.06 <= tick <= end + 0.06
        assert end - start == pytest.approx(330.0 * (high - low), abs=0.2)
    else:
        assert 330.0 * (high - low) <= 5.01, "a doubt no wider than the tick is not drawn"


def test_it_says_in_words_what_it_shows() -> None:
    drawn = chance(0.61, 0.4, 0.8, SAY, title="Air leak")
    words = "".join(pictures.parsed(drawn).itertext())
    assert "Air leak" in words
    assert "61 in a hundred; 40 to 80" in words


@pytest.mark.parametrize("palette", [None, PAPER])
def test_the_words_of_the_legend_stand_apart_and_inside(palette: object) -> None:
    drawn = chance_legend(SAY) if palette is None else chance_legend(SAY, palette=PAPER)
    assert [each.text for each in pictures.labels(drawn)] == WORDS
    assert not pictures.overlapping(drawn)
    assert not pictures.outside(drawn)
    assert pictures.smallest_text(drawn) >= 13


def test_each_word_of_the_legend_is_the_word_for_the_chance_at_its_tick() -> None:
    at = {0.0: "hardly", 0.25: "possible", 0.5: "even", 0.75: "likely", 1.0: "almost_sure"}
    for share, word in at.items():
        assert chance_word(share) == f"finding_chance.{word}"
