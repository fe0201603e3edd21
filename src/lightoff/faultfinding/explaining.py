"""Why a suspect is suspected: each reading for and against it, and the readings that nothing explains."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightoff.faultfinding.leaving_out import LeftOut
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.plant.quantities import COLUMN, QUANTITIES, uncompared

SPEAKS = 1.6
"""How much likelier a reading must be with the suspect than without for it to speak. Judgement."""
ODD_NUMBER, ODD_STATE = 0.002, 0.01
"""Chance of so odd a reading below which it is worth taking again. Judgement."""
BAND = 2.0
"""Standard deviations to either side of a band told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clue:
    """One reading and one suspect. `ratio` above one speaks for it: how much likelier the reading is with it
    than without, in the middle between hearing this reading first and hearing it last. So two readings that
    say the same both speak, and one that another explains hardly does.

    Of a number `low` to `high` is the band to expect with the suspect and all other readings (SI, about
    nineteen in twenty).
    """

    key: str
    ratio: float
    low: float | None = None
    high: float | None = None


def clues(without: LeftOut, fault: str) -> tuple[Clue, ...]:
    """Readings that speak for a fault and against it, strongest first."""
    inside = np.array([fault in each for each in without.sets])
    if not inside.any():
        return ()
    told = [_clue(without, key, inside) for key in without.by_reading]
    speaking = [each for each in told if each.ratio > SPEAKS or each.ratio < 1.0 / SPEAKS]
    return tuple(sorted(speaking, key=lambda each: (-abs(np.log(each.ratio)), each.key)))


def odd_readings(without: LeftOut) -> tuple[str, ...]:
    """Readings that no suspect explains, even now that they are known: worth taking again."""
    chances = np.exp(without.log_all)
    chances = chances / chances.sum()
    return tuple(
        key
        for key, said in sorted(without.by_reading.items())
        if float(chances @ said.tail) < (ODD_NUMBER if key in QUANTITIES else ODD_STATE)
    )


def _clue(without: LeftOut, key: str, inside: NDArray[np.bool_]) -> Clue:
    said, chances = without.by_reading[key], without.chances[key]
    first = _log_ratio(said.alone, np.exp(without.log_prior), inside)
    ratio = float(np.exp(0.5 * (first + _log_ratio(said.after, chances, inside))))
    if key not in QUANTITIES:
        return Clue(key=key, ratio=ratio)
    weights = np.where(inside, chances, 0.0) + 1e-300 * inside
    weights = weights / weights.sum()
    middle = float(weights @ said.middle)
    wide = float(np.sqrt(weights @ (said.spread**2 + (said.middle - middle) ** 2)))
    low, high = (_value(key, middle + side * BAND * wide) for side in (-1.0, 1.0))
    return Clue(key=key, ratio=ratio, low=low, high=high)


def _log_ratio(log: Array, weights: Array, inside: NDArray[np.bool_]) -> float:
    """Log of how much likelier something is in the sets inside than in the others."""
    chance = np.exp(log - log.max())
    means = [
        float(np.sum((weights * chance)[at]) / max(float(np.sum(weights[at])), 1e-300))
        for at in (inside, ~inside)
    ]
    with_it, without_it = (max(each, 1e-12) for each in means)
    return float(np.log(with_it / without_it))


def _value(key: str, place: float) -> float:
    """A number in SI from the scale on which it is compared."""
    return float(uncompared(np.asarray(place), COLUMN[key]))
