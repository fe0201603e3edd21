"""Steps and corners that nature rounds off: chances that rise over a width, and a maximum without a kink."""

from __future__ import annotations

import numpy as np

from lightoff.physics.uncertain import Array

_FAR = 60.0  # widths from the middle beyond which a step has ended


def step(x: Array) -> Array:
    """1 / (1 + exp(-x)): from nought far below zero to one far above."""
    away = np.minimum(np.maximum(x, -_FAR), _FAR)
    np.negative(away, out=away)
    np.exp(away, out=away)
    away += 1.0
    return np.asarray(1.0 / away)


def log_odds(chance: Array) -> Array:
    """The x at which `step` gives this chance."""
    inside = np.minimum(np.maximum(chance, 1e-9), 1.0 - 1e-9)
    return np.asarray(np.log(inside / (1.0 - inside)))


def above_zero(x: Array, width: float) -> Array:
    """max(x, 0) with a rounded corner: `width` ln 2 at zero; less the same of -x it is x again."""
    away = np.minimum(np.abs(x) / width, _FAR)
    return np.asarray(width * np.log1p(np.exp(-away)) + np.maximum(x, 0.0))
