"""Lives: what cannot be is refused in words; neither order nor counting matters; causes stand apart."""

import random
from dataclasses import replace

import numpy as np
import pytest

from lightoff.ground.errors import Refusal
from lightoff.texts import Speaker
from lightoff.wear.lives import Clock, Life, of_cause, tabled

HOURS = Clock.RUN_HOURS


@pytest.mark.parametrize(
    ("ages", "words"),
    [
        ({"left": -1.0}, "must be a number from nought up"),
        ({"left": float("nan")}, "must be a number from nought up"),
        ({"left": 100.0, "right": float("inf")}, "must be a number from nought up"),
        ({"left": 100.0, "entered": 200.0}, "first seen at an age of 200 cannot have ended its life at 100"),
        ({"left": 100.0, "right": 90.0}, "worked at an age of 100 cannot have failed by 90"),
        ({"left": 100.0, "right": 100.0, "entered": 100.0}, "cannot have failed by 100"),
        ({"left": 0.0, "right": 0.0}, "cannot have failed by 0"),
        ({"left": 10.0, "count": 0}, "0 equal lives cannot be"),
    ],
)
def test_a_life_that_cannot_be_is_refused(ages: dict[str, float], words: str) -> None:
    with pytest.raises(Refusal) as refused:
        Life(clock=HOURS, **ages)  # type: ignore[arg-type]
    assert words in Speaker().say(refused.value.message)


def test_clocks_do_not_mix() -> None:
    with pytest.raises(Refusal) as refused:
        tabled([Life.good_at(5, clock=HOURS), Life.good_at(5, clock=Clock.STARTS)])
    assert "run hours and starts" in Speaker().say(refused.value.message)
    with pytest.raises(Refusal):
        tabled([])


def test_equal_lives_are_counted_and_order_does_not_matter() -> None:
    lives = [Life.failed_at(5, clock=HOURS)] * 3 + [
        Life.good_at(9, clock=HOURS),
        Life.failed_at(2, clock=HOURS),
    ]
    shuffled = lives[:]
    random.Random(1).shuffle(shuffled)
    one, other = tabled(lives), tabled(shuffled)
    assert one.count.tolist() == [1, 3, 1]
    assert one.failure_count == 4
    assert one.life_count == 5
    for name in ("entered", "left", "right", "count"):
        assert np.array_equal(getattr(one, name), getattr(other, name))
    assert np.array_equal(one.count, tabled([*lives[3:], replace(lives[0], count=3)]).count)


def test_another_cause_ends_a_life_as_still_good_till_then() -> None:
    lives = (
        Life.failed_at(70, clock=HOURS, cause="broken"),
        Life.failed_between(50, 90, clock=HOURS, entered=20, cause="aged"),
        Life.good_at(100, clock=HOURS),
    )
    assert of_cause(lives, "broken") == (lives[0], replace(lives[1], right=None), lives[2])
    assert of_cause(lives, "aged") == (replace(lives[0], right=None), lives[1], lives[2])
