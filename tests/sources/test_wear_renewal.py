"""Possible lives and times of renewal against other computations."""

import numpy as np
import pytest

from lightoff.wear.fitting import fit_lives
from lightoff.wear.lives import Clock, Life
from lightoff.wear.posterior import LifePrior, Use, known_life, possible_lives
from lightoff.wear.replacement import age_replacement, cost_per_season, further_use

STARTS = Clock.STARTS
GRID = (
    "Six lives made up for the comparison; scipy 1.17.1 on a grid of 1200 shapes by 8001 lives"
    " (a coarser grid of 500 by 600 gave a median life of 2897, a step too far)"
)
INTEGRAL = "Worked out from the incomplete gamma function, scipy 1.17.1"
PACKAGE = "Docs of the Python package reliability, Optimal replacement time (2025), read off its grid"
SEASONS = "Renewal at visits, mean use from the incomplete gamma function, scipy 1.17.1"


def test_six_lives_and_a_prior(check_each) -> None:
    prior = LifePrior(
        clock=STARTS,
        life=2500,
        life_spread=0.6,
        shape=3,
        shape_spread=0.3,
        basis="made up for the comparison",
    )
    lives = [Life.failed_at(each, clock=STARTS) for each in (1600, 2300)]
    lives += [Life.good_at(each, clock=STARTS) for each in (900, 1400, 2100, 2600)]
    found = possible_lives(lives, prior)
    alone = fit_lives(lives).chance_to_last(1800, 500)
    lasts = found.chance_to_last(age=1800, use=Use(clock=STARTS, expected=500))
    check_each(
        (
            ("W051", "mean shape", 3.21621, float(found.shapes @ found.weights), 5e-4, "-"),
            ("W051 life", "median characteristic life", 2889.28, found.life().value, 1e-3, "starts"),
            ("W051 low", "its 5 % quantile", 2139.94, found.life().low, 3e-3, "starts"),
            ("W051 high", "its 95 % quantile", 4579.28, found.life().high, 3e-3, "starts"),
            ("W052", "fails within 500 starts from 1800", 0.246196, 1.0 - lasts.value, 1e-4, "-"),
            ("W052 best fit", "the same by the best fit alone", 0.3158, 1.0 - alone, 2e-4, "-"),
        ),
        columns=("tolerance", "unit"),
        relative=True,
        source=GRID,
        how_seen="computed with scipy 1.17.1",
    )


@pytest.mark.parametrize(
    ("row", "life", "shape", "planned", "failure", "age", "cost", "unit"),
    [
        ("W054", 1000, 2.5, 1, 5, 493.047, 0.00346204, "h"),
        ("W057", 3000, 3.0, 120, 400, 1811.31, 0.102071, "starts"),
    ],
)
def test_the_age_that_costs_least(check, row, life, shape, planned, failure, age, cost, unit) -> None:
    best = age_replacement(
        known_life(clock=STARTS, life=life, shape=shape), planned_cost=planned, failure_cost=failure
    )
    for id_, what, expected, got, tolerance in (
        (row, "age of renewal", age, best.age, 2e-5),
        (f"{row} cost", "its cost", cost, best.cost_per_unit, 1e-5),
    ):
        check(
            id_,
            what,
            expected=expected,
            got=got,
            tolerance=tolerance,
            relative=True,
            unit=unit if id_ == row else f"per {unit}",
            source=INTEGRAL,
            how_seen="computed with scipy 1.17.1",
        )
    if row == "W054":
        check(
            "W055",
            "age of renewal, as printed",
            expected=493.19,
            got=best.age,
            tolerance=0.2,
            unit="h",
            source=PACKAGE,
            how_seen="second-hand",
        )


@pytest.mark.parametrize(
    ("row", "planned", "expected"),
    [
        ("W058", 45, (49.063, 38.452, 49.123, 66.304)),
        ("W059", 165, (168.079, 94.611, 81.043, 83.696)),
    ],
)
def test_renewal_at_the_visits(check, row, planned, expected) -> None:
    got = cost_per_season(
        known_life(clock=STARTS, life=1800, shape=3),
        Use(clock=STARTS, expected=400),
        planned_cost=planned,
        failure_cost=405,
    )
    for visit, (wanted, cost) in enumerate(zip(expected, got, strict=False), start=1):
        check(
            f"{row} visit {visit}",
            f"cost of a season, planned {planned}, failure 405, renewed at visit {visit}",
            expected=wanted,
            got=cost,
            tolerance=0.002,
            unit="money",
            source=SEASONS,
            how_seen="computed with scipy 1.17.1",
        )


def test_chance_to_fail_in_the_next_season(check) -> None:
    lives = known_life(clock=STARTS, life=1800, shape=3)
    for age, expected in ((400, 0.073941), (800, 0.188203), (1200, 0.333714)):
        failed, _ = further_use(lives, np.array([age, age + 400.0]))
        check(
            f"W060 at {age}",
            f"fails within 400 h from {age} h, Weibull of life 1800 and shape 3",
            expected=expected,
            got=float(failed[0, 0]),
            tolerance=1e-6,
            unit="-",
            source="surpyval 0.25, forecast of failures",
            how_seen="computed with surpyval 0.25",
        )
