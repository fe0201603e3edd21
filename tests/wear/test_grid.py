"""The grid says what the point by point likelihood says, whatever is known of the lives."""

import numpy as np
import pytest

from lightoff.wear.grid import log_likelihood_on_grid
from lightoff.wear.laws import Law, log_likelihood
from lightoff.wear.lives import Clock, Life, tabled

LOG_SHAPE, LOG_LIFE = np.linspace(-1.5, 2.5, 21), np.linspace(5.0, 10.0, 31)
ALL = (
    Life.failed_at(900.0, clock=Clock.RUN_HOURS),
    Life.failed_at(1800.0, clock=Clock.RUN_HOURS, entered=700.0),
    Life.good_at(1200.0, clock=Clock.RUN_HOURS),
    Life.good_at(2600.0, clock=Clock.RUN_HOURS, entered=2400.0),
    Life.failed_between(0.0, 300.0, clock=Clock.RUN_HOURS),
    Life.failed_between(1000.0, 1000.5, clock=Clock.RUN_HOURS, entered=10.0),
    Life.failed_between(1500.0, 2200.0, clock=Clock.RUN_HOURS),
)


@pytest.mark.parametrize("lives", [(), *((each,) for each in ALL), ALL, ALL * 40])
def test_the_grid_and_the_points_agree(lives: tuple[Life, ...]) -> None:
    table = tabled(lives, clock=Clock.RUN_HOURS)
    shape, life = np.meshgrid(LOG_SHAPE, LOG_LIFE, indexing="ij")
    point_by_point = log_likelihood(Law.WEIBULL, table, log_life=life, log_shape=shape)
    grid = log_likelihood_on_grid(table, LOG_SHAPE, LOG_LIFE)
    # Below what any shop's lives have, one of the two may already say that it cannot be.
    told = point_by_point > -1e5
    assert told.sum() > 100
    np.testing.assert_allclose(grid[told], point_by_point[told], rtol=1e-9, atol=1e-7)
    assert not np.isnan(grid).any()
    assert (grid[~told] < -9e4).all()


def test_steep_laws_do_not_overflow() -> None:
    table = tabled(ALL, clock=Clock.RUN_HOURS)
    grid = log_likelihood_on_grid(table, np.linspace(-12.0, 12.0, 25), np.linspace(2.0, 16.0, 25))
    assert not np.isnan(grid).any()
    assert not np.isposinf(grid).any()
