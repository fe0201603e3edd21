"""Best fits of drawn fleets beside a library's: every kind of life, late entry, both laws.

surpyval fits the same tables by its own likelihood. Where its search stops short of the top, ours must be the
likelier one; it must never be the less likely.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import surpyval

sys.path.insert(0, str(Path(__file__).parents[1] / "wear"))
from drawn_lives import fleet

from lightoff.wear.fitting import fit_lives
from lightoff.wear.laws import Law, log_likelihood
from lightoff.wear.lives import Life, tabled

SOURCE = "surpyval 0.25 or later, fitted at the test to the same drawn lives"
LAWS = {Law.WEIBULL: surpyval.Weibull, Law.LOG_NORMAL: surpyval.LogNormal}
TRUTHS = [(1, 40, 1.4), (2, 60, 2.2), (3, 25, 3.0), (4, 120, 1.0)]


def theirs(lives: list[Life], law: Law) -> tuple[float, float]:
    """Life and shape of the library's fit, as ours have them."""
    ends = [[each.left, each.left if each.right is None else each.right] for each in lives]
    kinds = [1 if each.right is None else 0 if each.right == each.left else 2 for each in lives]
    fitted = LAWS[law].fit(
        x=[low if kind != 2 else [low, high] for (low, high), kind in zip(ends, kinds, strict=True)],
        c=kinds,
        tl=[each.entered for each in lives],
    )
    first, second = (float(each) for each in fitted.params)
    return (first, second) if law is Law.WEIBULL else (float(np.exp(first)), 1.0 / second)


@pytest.mark.parametrize("law", list(LAWS))
@pytest.mark.parametrize(("seed", "count", "shape"), TRUTHS)
def test_a_drawn_fleet(check, law: Law, seed: int, count: int, shape: float) -> None:
    lives = fleet(seed, count=count, shape=shape, life=2000.0)
    ours, (life, bent) = fit_lives(lives, law=law), theirs(lives, law)
    name = f"{law.value}, {count} lives, seed {seed}"
    for what, got, expected in (("life", ours.life.value, life), ("shape", ours.shape.value, bent)):
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
