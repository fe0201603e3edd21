"""The two laws of life, Weibull and log-normal, and how likely they make what is known.

Both stand on the logarithm of age: z = shape (ln age - ln life). For Weibull `life` is the characteristic
life, by which 63 in 100 have failed; for log-normal it is the median, and `shape` is 1 / sigma. The larger
the shape, the more alike the lives; below 1 a Weibull part fails young and hardly wears.
"""

from __future__ import annotations

import math
from enum import StrEnum

import numpy as np

from lightoff.physics.uncertain import Array
from lightoff.wear.lives import LifeTable

_HALF_LOG_TWO_PI = 0.5 * math.log(2.0 * math.pi)
_FAR = 25.0  # beyond, the complementary error function is nought; its series is within 1e-8 there
_LARGEST = 700.0  # exp of more overflows
_erfc = np.frompyfunc(math.erfc, 1, 1)


class Law(StrEnum):
    """A law of life."""

    WEIBULL = "weibull"
    LOG_NORMAL = "log-normal"


def log_survival(law: Law, z: Array) -> Array:
    """Logarithm of the chance to outlive the standardised log age `z`, any shape."""
    if law is Law.WEIBULL:
        return np.asarray(-np.exp(np.minimum(z, _LARGEST)))
    upper = np.asarray(_erfc(np.minimum(z, _FAR) / math.sqrt(2.0)), dtype=np.float64)
    near = np.log(np.maximum(0.5 * upper, 1e-300))
    far = np.clip(z, _FAR, 1e150)
    tail = -0.5 * far**2 - np.log(far) - _HALF_LOG_TWO_PI + np.log1p(-1.0 / far**2)
    return np.asarray(np.where(z > _FAR, tail, near))


def log_likelihood(law: Law, table: LifeTable, *, log_life: Array, log_shape: Array) -> Array:
    """Log-likelihood of lives at points of the two logarithms; arrays of one shape, answered in it.

    An exact failure gives its density, a piece still good its survival, an interval the chance between its
    ends, and every late entry divides by the chance to have come so far.
    Basis: meeker_1998 (likelihoods of censored and truncated lives).
    """
    if not table.count.size:
        return np.zeros(np.shape(log_life))
    place, shape = np.asarray(log_life)[..., None], np.exp(np.asarray(log_shape))[..., None]
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        log_left = np.log(table.left)
        z_left = shape * (log_left - place)
        at_left = log_survival(law, z_left)
        total = at_left - log_survival(law, shape * (np.log(table.entered) - place))
        exact = table.left == table.right
        between = np.isfinite(table.right) & ~exact
        if exact.any():
            z = z_left[..., exact]
            hazard = z if law is Law.WEIBULL else -0.5 * z * z - _HALF_LOG_TWO_PI - at_left[..., exact]
            total[..., exact] += hazard + np.log(shape) - log_left[exact]
        if between.any():
            at_right = log_survival(law, shape * (np.log(table.right[between]) - place))
            total[..., between] += np.log(-np.expm1(at_right - at_left[..., between]))
        answer = total @ table.count
    return np.asarray(np.where(np.isnan(answer), -np.inf, answer))
