"""Why a suspect is suspected: each reading for and against it, and the readings that nothing explains."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.evidence import Evidence, Side
from lightoff.faultfinding.posterior import Posterior, read_spread
from lightoff.physics.normal import cumulative
from lightoff.physics.uncertain import Array
from lightoff.plant.quantities import COLUMN, QUANTITIES, compared, uncompared

SPEAKS = 1.6
"""How much likelier a reading must be with the suspect than without for it to speak. Judgement."""
ODD_NUMBER, ODD_STATE = 0.004, 0.03
"""Chance of so odd a reading below which it is worth taking again. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clue:
    """One reading beside what the suspect predicts. `ratio` above one speaks for it.

    Of a number `low` to `high` is the band to expect under the suspect (SI, nineteen in twenty); of a state
    `expected` is its chance there and `otherwise` without it.
    """

    key: str
    ratio: float
    low: float | None = None
    high: float | None = None
    expected: float = 0.0
    otherwise: float = 0.0


def clues(bank: Bank, evidence: Evidence, found: Posterior, fault: str) -> tuple[Clue, ...]:
    """Readings that speak for a fault and against it, strongest first."""
    inside = np.array([fault in each for each in found.sets[:-1]])
    if not inside.any():
        return ()
    with_it = np.where(inside, found.chances[:-1], 0.0)
    without = np.where(inside, 0.0, found.chances[:-1])
    told = [
        _number_clue(bank, evidence, found, key, with_it, without)
        for key in evidence.numbers
        if key in QUANTITIES
    ]
    told += [
        _state_clue(evidence, found, key, with_it, without)
        for key in evidence.states
        if key in found.weighed[0].nodes.chances
    ]
    speaking = [each for each in told if each.ratio > SPEAKS or each.ratio < 1.0 / SPEAKS]
    return tuple(sorted(speaking, key=lambda each: (-abs(np.log(each.ratio)), each.key)))


def odd_readings(bank: Bank, evidence: Evidence, found: Posterior) -> tuple[str, ...]:
    """Readings that no likely suspect explains: worth taking again."""
    odd = []
    for key in sorted(evidence.numbers):
        if key in QUANTITIES and evidence.numbers[key].side is Side.EXACT:
            mean, spread = _predicted(bank, evidence, found, key)
            value = compared(_row(key, evidence.numbers[key].value))[COLUMN[key]]
            tails = 2.0 * cumulative(-np.abs(value - mean) / spread[:, None])
            likely = found.chances[:-1] > 0.01
            if likely.any() and float(tails[likely].max()) < ODD_NUMBER:
                odd.append(key)
    for key in sorted(evidence.states):
        if key in found.weighed[0].nodes.chances:
            chances = _chance_of_state(evidence, found, key)
            if float(found.chances[:-1] @ chances) < ODD_STATE * float(found.chances[:-1].sum()):
                odd.append(key)
    return tuple(odd)


def _number_clue(
    bank: Bank, evidence: Evidence, found: Posterior, key: str, with_it: Array, without: Array
) -> Clue:
    mean, spread = _predicted(bank, evidence, found, key)
    number, column = evidence.numbers[key], COLUMN[key]
    value = compared(_row(key, number.value))[column]
    off = (value - mean) / spread[:, None]
    if number.side is Side.EXACT:
        density = np.exp(-0.5 * np.minimum(off**2, 60.0)) / spread[:, None]
    else:
        density = cumulative(off if number.side is Side.BELOW else -off)
    cells = np.concatenate([part.cells for part in _even(found)], axis=0)
    by_set = np.sum(cells * density, axis=1)
    weights = with_it / with_it.sum()
    middle = float(weights @ np.sum(cells * mean, axis=1))
    wide = float(np.sqrt(weights @ np.sum(cells * (mean - middle) ** 2, axis=1) + weights @ spread**2))
    low, high = (float(uncompared(np.asarray(middle + k * wide), column)) for k in (-2.0, 2.0))
    return Clue(key=key, ratio=_ratio(by_set, with_it, without), low=low, high=high)


def _state_clue(evidence: Evidence, found: Posterior, key: str, with_it: Array, without: Array) -> Clue:
    chances = _chance_of_state(evidence, found, key)
    return Clue(
        key=key,
        ratio=_ratio(chances, with_it, without),
        expected=float(with_it @ chances / with_it.sum()),
        otherwise=float(without @ chances / max(without.sum(), 1e-12)),
    )


def _ratio(likelihood: Array, with_it: Array, without: Array) -> float:
    inside = float(with_it @ likelihood / with_it.sum())
    outside = float(without @ likelihood / max(float(without.sum()), 1e-12))
    return max(inside, 1e-12) / max(outside, 1e-12)


def _chance_of_state(evidence: Evidence, found: Posterior, key: str) -> Array:
    """Chance of the state seen under each set, before any other reading is counted, (sets,)."""
    seen = np.asarray(list(evidence.states[key].values()))
    return np.concatenate(
        [np.mean(part.nodes.chances[key][part.kept] @ seen, axis=(1, 2)) for part in found.weighed]
    )


def _predicted(bank: Bank, evidence: Evidence, found: Posterior, key: str) -> tuple[Array, Array]:
    """Mean (sets, cells) and spread (sets,) of a number under each set, before any reading is counted."""
    column, noise = COLUMN[key], read_spread(bank, key, evidence)
    means, spreads = [], []
    for part in found.weighed:
        spreads.append(np.hypot(part.nodes.widths[part.kept, column], noise))
        means.append(_padded(part.nodes.mean[part.kept, :, column]))
    return np.concatenate(means), np.concatenate(spreads)


@dataclass(frozen=True, slots=True)
class _Even:
    cells: Array


def _even(found: Posterior) -> Iterator[_Even]:
    """Cell shares of each part, of one width."""
    for part in found.weighed:
        yield _Even(_padded(part.cells, value=0.0))


def _padded(cells: Array, value: float | None = None) -> Array:
    """(h, 8), pairs' four cells filled up with copies of the last, or with `value`."""
    short = 8 - cells.shape[1]
    if short <= 0:
        return cells
    filler = np.repeat(cells[:, -1:], short, axis=1) if value is None else np.full((len(cells), short), value)
    return np.concatenate([cells, filler], axis=1)


def _row(key: str, value: float) -> Array:
    row = np.zeros(len(QUANTITIES))
    row[COLUMN[key]] = value
    return row
