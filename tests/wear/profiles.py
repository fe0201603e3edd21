"""How far the likelihood falls below its top with life, shape or an age of failure held, by a fine net."""

import math
from collections.abc import Callable, Sequence

import numpy as np

from lightoff.physics.uncertain import Array
from lightoff.wear.fitting import LifeFit
from lightoff.wear.laws import Law, log_likelihood
from lightoff.wear.lives import Life, tabled

WITHIN = 0.5 * 1.959963984540054**2
"""The fall at the ends of a likelihood-ratio interval that holds the truth 95 times in 100."""


def fall_at_life(fit: LifeFit, lives: Sequence[Life], life: float) -> float:
    return _fall(fit, lives, fit.best_shape, lambda shapes: (np.full(shapes.shape, math.log(life)), shapes))


def fall_at_shape(fit: LifeFit, lives: Sequence[Life], shape: float) -> float:
    return _fall(fit, lives, fit.best_life, lambda ages: (ages, np.full(ages.shape, math.log(shape))))


def fall_at_tenth(fit: LifeFit, lives: Sequence[Life], age: float) -> float:
    """With the age held by which a tenth has failed."""
    offset = math.log(-math.log(0.9)) if fit.law is Law.WEIBULL else -1.2815515655446004
    return _fall(fit, lives, fit.best_shape, lambda s: (math.log(age) - offset * np.exp(-s), s))


def _fall(
    fit: LifeFit, lives: Sequence[Life], middle: float, points: Callable[[Array], tuple[Array, Array]]
) -> float:
    table, at, height = tabled(lives), math.log(middle), -math.inf
    for reach in (4.0, 0.05, 0.001):
        net = at + np.linspace(-reach, reach, 241)
        log_life, log_shape = points(net)
        heights = log_likelihood(fit.law, table, log_life=log_life, log_shape=log_shape)
        at, height = float(net[int(np.argmax(heights))]), float(heights.max())
    return fit.log_likelihood - height
