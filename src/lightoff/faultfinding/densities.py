"""Student's density of several numbers together, and sums of exponentials kept in logarithms."""

from __future__ import annotations

from math import lgamma

import numpy as np

from lightoff.physics.uncertain import Array


def log_student(distance: Array, log_root: Array, *, count: int, tail: float) -> Array:
    """Log density of `count` numbers together with one unknown common scale (Student's t with `tail`).

    `distance` their squared distance from the mean under the scale matrix, `log_root` half the logarithm of
    that matrix's determinant. Basis: gelman_2013 (appendix A, multivariate t).
    """
    head = lgamma(0.5 * (tail + count)) - lgamma(0.5 * tail) - 0.5 * count * np.log(tail * np.pi)
    return np.asarray(head - log_root - 0.5 * (tail + count) * np.log1p(distance / tail))


def log_sum(values: Array, axis: int) -> Array:
    """Logarithm of a sum of exponentials along an axis."""
    top = values.max(axis=axis, keepdims=True)
    summed = np.log(np.sum(np.exp(values - top), axis=axis, keepdims=True)) + top
    return np.asarray(np.squeeze(summed, axis=axis))
