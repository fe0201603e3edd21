"""Best fits of drawn fleets beside another library's: every kind of life, late entry, both laws.

lifelines fits the same tables by its own likelihood. Ours, made by surpyval, must never be the less likely.
"""

from __future__ import annotations

import sys
from pathlib import Path

import lifelines
import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "wear"))
from drawn_lives import fleet

from lightoff.wear.fitting import fit_lives
from lightoff.wear.laws import Law, log_likelihood
from lightoff.wear.lives import Life, tabled

SOURCE = "lifelines 0.30.3 or later, fitted at the test to the same drawn lives"
TRUTHS = [(1, 40, 1.4), (2, 60, 2.2), (3, 25, 3.0), (4, 120, 1.0)]


def theirs(lives: list[Life], law: Law) -> tuple[float, float]:
    """Life and shape of the other library's fit, as ours have them."""
    table = tabled(lives)
    fitter = lifelines.WeibullFitter() if law is Law.WEIBULL else lifelines.LogNormalFitter()
    fitter.fit_interval_censoring(table.left, table.right, weights=table.count, entry=table.entered)
    if law is Law.WEIBULL:
        return float(fitter.lambda_), float(fitter.rho_)
    return float(np.exp(fitter.mu_)), 1.0 / float(fitter.sigma_)


@pytest.mark.parametrize("law", list(Law))
@pytest.mark.parametrize(("seed", "count", "shape"), TRUTHS)
def test_a_drawn_fleet(check, law: Law, seed: int, count: int, shape: float) -> None:
    lives = fleet(seed, count=count, shape=shape, life=2000.0)
    ours, (life, bent) = fit_lives(lives, law=law), theirs(lives, law)
    name = f"{law.value}, {count} lives, seed {seed}"
    for what, got, expected in (("life", ours.best_life, life), ("shape", ours.best_shape, bent)):
        check(
            f"second library, {what}, {name}",
            f"{what} that makes a drawn fleet likeliest, {name}",
            expected=expected,
            got=got,
            tolerance=2e-3,
            relative=True,
            unit="h" if what == "life" else "-",
            source=SOURCE,
            how_seen="computed beside ours at the test",
        )
    at_theirs = log_likelihood(
        law, tabled(lives), log_life=np.log(np.array([life])), log_shape=np.log(np.array([bent]))
    )
    assert ours.log_likelihood >= float(at_theirs[0]) - 1e-6
