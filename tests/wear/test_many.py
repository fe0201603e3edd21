"""Many chances at once are those of one piece at a time."""

import numpy as np
import pytest

from lightoff.wear.lives import Clock, Life
from lightoff.wear.many import Chances
from lightoff.wear.posterior import LifePosterior, LifePrior, Use, possible_lives

CLOCK = Clock.RUN_HOURS
PRIOR = LifePrior(clock=CLOCK, life=2000.0, life_spread=0.9, shape=1.8, shape_spread=0.4, basis="judgement")
LIVES = [
    Life.failed_between(900.0, 1400.0, clock=CLOCK),
    Life.failed_at(2600.0, clock=CLOCK, entered=400.0),
    *(Life.good_at(300.0 * (1 + each % 7), clock=CLOCK) for each in range(20)),
]


@pytest.fixture(scope="module")
def lives() -> LifePosterior:
    return possible_lives(LIVES, PRIOR)


@pytest.mark.parametrize("count", [12, 600])
@pytest.mark.parametrize("spread", [0.0, 0.7])
def test_they_agree_with_one_at_a_time(lives: LifePosterior, count: int, spread: float) -> None:
    rng = np.random.default_rng(3)
    ages, expected = rng.uniform(0.0, 6000.0, count), rng.uniform(20.0, 1500.0, count)
    found = Chances(lives).to_last(ages=ages, expected=expected, spread=spread)
    for at in range(0, count, max(count // 12, 1)):
        use = Use(clock=CLOCK, expected=float(expected[at]), spread=spread)
        exact = lives.chance_to_last(age=float(ages[at]), use=use).value
        assert found[at] == pytest.approx(exact, abs=1e-9 if count < 100 else 0.01)


def test_older_pieces_and_longer_seasons_last_less_in_the_table_too(lives: LifePosterior) -> None:
    ages, expected = np.linspace(0.0, 9000.0, 500), np.full(500, 300.0)
    chances = Chances(lives)
    along = chances.to_last(ages=ages, expected=expected, spread=0.3)
    assert (np.diff(along) <= 1e-9).all()
    assert (chances.to_last(ages=ages, expected=2.0 * expected, spread=0.3) <= along + 1e-9).all()
