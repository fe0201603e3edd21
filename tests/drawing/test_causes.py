"""What ended how many: layers that add up, names apart, counts below."""

from __future__ import annotations

import pictures
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.drawing import CauseLayer, CauseWords, causes

WORDS = CauseWords(title="Igniter: what ended how many", description="x", ages="run hours", at_risk="watched")
NAMES = ("Weak igniter", "Cracked igniter", "Igniter on edge", "Not said", "Open igniter")


def drawn(rises: list[list[float]], *, width: float = 660.0) -> str:
    total = sum(sum(each) for each in rises) or 1.0
    layers, counts = [], [(100.0 * at, 200 - 7 * at) for at in range(1, 20)]
    for name, steps in zip(NAMES, rises, strict=False):
        told, shares = 0.0, []
        for at, step in enumerate(steps):
            told += 0.9 * step / max(total, 1.0)
            shares.append((100.0 * (at + 1), told))
        layers.append(CauseLayer(name=name, shares=shares))
    return causes(
        layers,
        counts,
        WORDS,
        oldest=2000.0,
        as_value=lambda share: f"{100 * share:g} %",
        as_age=lambda age: f"{age:,.0f}",
        width=width,
    )


@settings(max_examples=50, deadline=None)
@given(
    st.lists(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=19), min_size=1, max_size=5),
    st.sampled_from([660.0, 334.0]),
)
def test_no_word_lies_on_another_or_outside(rises: list[list[float]], width: float) -> None:
    picture = drawn(rises, width=width)
    assert pictures.overlapping(picture) == []
    assert pictures.outside(picture) == []
    assert pictures.smallest_text(picture) >= 13


def test_layers_stand_on_each_other() -> None:
    picture = drawn([[0.2] * 10, [0.1] * 10])
    tops = [
        min(float(each.split(",")[1]) for each in line.get("points", "").split())
        for line in pictures.parsed(picture).iter(f"{pictures.SVG}polyline")
    ]
    # 0.9 * 2/3 and 0.9 of a hundred, on a scale to one: 182 px high from the foot at 196.
    assert tops == pytest.approx([196 - 0.6 * 182, 196 - 0.9 * 182], abs=0.6)
