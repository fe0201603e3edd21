"""The normal integral over arrays, and its logarithm far into the tail."""

from __future__ import annotations

import numpy as np

from lightoff.physics.uncertain import Array

_P = 0.3275911
_A = (0.254829592, -0.284496736, 1.421413741, -1.453152027, 1.061405429)


def cumulative(x: Array) -> Array:
    """P(Z <= x) of a standard normal Z, within 1e-7.

    Basis: abramowitz_stegun_1964 (7.1.26, error below 1.5e-7 of erf).
    """
    z = np.abs(x) / np.sqrt(2.0)
    t = 1.0 / (1.0 + _P * z)
    tail = 0.5 * t * (_A[0] + t * (_A[1] + t * (_A[2] + t * (_A[3] + t * _A[4])))) * np.exp(-z * z)
    return np.asarray(np.where(x > 0.0, 1.0 - tail, tail))


def log_cumulative(x: Array) -> Array:
    """log P(Z <= x), by the asymptotic series below -4. Basis: abramowitz_stegun_1964 (26.2.12)."""
    far = np.minimum(x, -4.0)
    series = 1.0 - 1.0 / far**2 + 3.0 / far**4 - 15.0 / far**6
    tail = -0.5 * far**2 - np.log(-far) - 0.5 * np.log(2.0 * np.pi) + np.log(series)
    near = np.log(np.maximum(cumulative(np.maximum(x, -5.0)), 1e-300))
    return np.asarray(np.where(x < -4.0, tail, near))
