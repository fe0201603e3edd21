"""The band to expect of each reading: this heater, here, today, if it is in order.

Nineteen in twenty sound heaters read within it. It may lower a judgement to not proven and never raise one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.plant.baseline import Baseline, unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import predict
from lightoff.plant.parameters import spreads
from lightoff.plant.quantities import QUANTITIES, compared, uncompared
from lightoff.terms.shelf import Sheet

COVERAGE = 2.0
"""Nineteen in twenty of a normal spread."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """One reading's middle and band, SI."""

    middle: float
    low: float
    high: float


def bands(sheet: Sheet, conditions: Conditions, baseline: Baseline | None = None) -> Mapping[str, Band]:
    """The band of every number the model predicts, by catalogue key.

    Its ends are what the likeliest heaters would read that lie `COVERAGE` standard deviations out in the
    direction in which the reading grows or falls most, with the spread of the reading itself beside it.
    Basis: common practice (the first-order reliability method).
    """
    known = baseline or unknown_unit()
    one, root = spreads(sheet), np.linalg.cholesky(known.covariance)

    def read(moves: Array) -> Array:
        """(rows, quantities) on the compared scale, for rows of standard normal moves."""
        shifts = (known.mean + moves @ root.T) * one
        return compared(predict(sheet, conditions, shifts, with_signs=False).numeric)

    ends = COVERAGE * np.eye(one.size)
    values = read(np.concatenate([np.zeros((1, one.size)), ends, -ends]))
    middle, ups, downs = values[0], values[1 : 1 + one.size], values[1 + one.size :]
    high = _furthest(read, middle, ups - middle, downs - middle)
    low = -_furthest(lambda moves: -read(moves), -middle, middle - ups, middle - downs)
    found = {}
    for at, (key, quantity) in enumerate(QUANTITIES.items()):
        noise = COVERAGE * quantity.slack
        mean, least, most = (
            float(uncompared(np.asarray(each), at))
            for each in (
                middle[at],
                middle[at] - np.hypot(middle[at] - low[at], noise),
                middle[at] + np.hypot(high[at] - middle[at], noise),
            )
        )
        above_nought = quantity.dimension != "temperature"
        found[key] = Band(middle=mean, low=max(least, 0.0) if above_nought else least, high=most)
    return MappingProxyType(found)


def _furthest(read: Callable[[Array], Array], middle: Array, plus: Array, minus: Array) -> Array:
    """What each quantity reads `COVERAGE` out where it grows most, (quantities,).

    `plus` and `minus` (parameters, quantities): what one parameter's move alone adds.
    """
    gain = np.maximum(np.maximum(plus, minus), 0.0)
    towards = np.where(plus >= minus, gain, -gain)
    length = np.sqrt(np.sum(gain * gain, axis=0))
    out = COVERAGE * (towards / np.maximum(length, 1e-12)).T
    together = np.diagonal(read(out))
    return np.asarray(np.maximum(together, middle + gain.max(axis=0)))


def linearised(sheet: Sheet, conditions: Conditions, baseline: Baseline) -> tuple[Array, Array]:
    """Means (quantities,) on the compared scale, and slopes (quantities, parameters) per spread."""
    one = spreads(sheet)
    moves = np.concatenate([np.zeros((1, one.size)), np.diag(one), -np.diag(one)])
    seen = predict(sheet, conditions, moves + baseline.mean * one, with_signs=False)
    values = compared(seen.numeric)
    up, down = values[1 : 1 + one.size], values[1 + one.size :]
    return values[0], np.asarray(0.5 * (up - down).T)
