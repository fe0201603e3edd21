"""The band to expect of each reading: this heater, here, today, if it is in order.

The mean from the model at the unit's baseline; the width from the spread of every parameter through a
secant, and from how well the reading repeats. It may lower a judgement to not proven and never raise one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from lightoff.physics.uncertain import Array
from lightoff.plant.baseline import Baseline, unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import predict
from lightoff.plant.parameters import SPREADS
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
    """The band of every number the model predicts, by catalogue key."""
    known = baseline or unknown_unit()
    middle, slopes = linearised(sheet, conditions, known)
    width = np.sqrt(np.sum((slopes @ np.linalg.cholesky(known.covariance)) ** 2, axis=1))
    found = {}
    for at, (key, quantity) in enumerate(QUANTITIES.items()):
        half = COVERAGE * float(np.hypot(width[at], quantity.slack))
        low, mean, high = (
            float(uncompared(np.asarray(middle[at] + move), at)) for move in (-half, 0.0, half)
        )
        found[key] = Band(
            middle=mean, low=low if quantity.dimension == "temperature" else max(low, 0.0), high=high
        )
    return MappingProxyType(found)


def linearised(sheet: Sheet, conditions: Conditions, baseline: Baseline) -> tuple[Array, Array]:
    """Means (quantities,) on the compared scale, and slopes (quantities, parameters) per spread."""
    rows = np.concatenate([np.zeros((1, SPREADS.size)), np.diag(SPREADS), -np.diag(SPREADS)])
    values = compared(predict(sheet, conditions, rows + baseline.mean * SPREADS).numeric)
    up, down = values[1 : 1 + SPREADS.size], values[1 + SPREADS.size :]
    return values[0], np.asarray(0.5 * (up - down).T)
