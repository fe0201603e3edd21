"""Clocks: the one that drew the failures fits best, whatever unit it counts in; pieces must be the same."""

from dataclasses import replace

import numpy as np
import pytest

from lightoff.ground.errors import Refusal
from lightoff.texts import Speaker
from lightoff.wear.clocks import compare_clocks
from lightoff.wear.lives import Clock, Life


def paths(seed: int, count: int, paces: tuple[float, float] = (1.5, 6.0)) -> tuple[list[Life], list[Life]]:
    """Pieces that fail by their starts, each at its own pace; hours only come along."""
    draw = np.random.default_rng(seed)
    starts = 2000.0 * draw.weibull(4.0, size=count)
    hours = starts / draw.uniform(*paces, size=count)
    good = draw.random(count) < 0.2
    return tuple(  # type: ignore[return-value]
        [Life(clock=c, left=a, right=None if g else a) for a, g in zip(ages, good, strict=True)]
        for c, ages in ((Clock.RUN_HOURS, hours), (Clock.STARTS, starts))
    )


def test_the_clock_that_wears_wins_and_its_unit_does_not_matter() -> None:
    hours, starts = paths(1, 40)
    result = compare_clocks({Clock.RUN_HOURS: hours, Clock.STARTS: starts}).chosen
    assert result.best is Clock.STARTS
    assert result.is_clear
    assert [Speaker().say(each) for each in result.says()] == [
        "The failures follow the number of starts best."
    ]
    hundreds = [
        replace(e, left=e.left / 100, right=None if e.right is None else e.right / 100) for e in starts
    ]
    other = compare_clocks({Clock.RUN_HOURS: hours, Clock.STARTS: hundreds}).chosen
    assert other.lead == pytest.approx(result.lead, abs=1e-4)
    turned = compare_clocks({Clock.STARTS: starts, Clock.RUN_HOURS: hours}).chosen
    assert turned.best is Clock.STARTS
    assert turned.lead == pytest.approx(result.lead, abs=1e-4)


def test_where_all_are_used_alike_it_stays_open() -> None:
    hours, starts = paths(3, 8, (2.8, 3.2))
    result = compare_clocks({Clock.RUN_HOURS: hours, Clock.STARTS: starts}).chosen
    assert not result.is_clear
    assert "nearly as well" in Speaker().say(result.says()[0])


def test_other_pieces_are_refused() -> None:
    hours, starts = paths(1, 6)
    with pytest.raises(Refusal) as refused:
        compare_clocks({Clock.RUN_HOURS: hours, Clock.STARTS: starts[1:]})
    assert "not those of the same pieces" in Speaker().say(refused.value.message)
