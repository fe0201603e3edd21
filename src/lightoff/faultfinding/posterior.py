"""From evidence to the chance of each suspicion.

At a node all numbers read are jointly Gaussian (spread of the parameters through the slopes, plus what the
reading itself leaves open), states multiply in over the node's draws, and what was tried counts as it
ended. Everything is a sum over readings in the catalogue's order, so that the order of entry cannot matter.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from lightoff.faultfinding.bank import UNKNOWN_SHARE, UNKNOWN_WIDTH, Bank, Nodes
from lightoff.faultfinding.evidence import Evidence, Outcome, Side
from lightoff.physics.normal import log_cumulative
from lightoff.physics.uncertain import Array
from lightoff.plant.quantities import COLUMN, FLOORS, QUANTITIES

Rows: TypeAlias = NDArray[np.intp]
REPAIR_FAILS = 0.04
"""A repair that was done and did not cure its own fault. Judgement, no source."""
CURED_BY_CHANCE = 0.02
PAIRS_LOOKED_AT = 240
"""Pairs whose numbers are weighed exactly, the likeliest by a coarse weighing."""
UNKNOWN_KEY = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """One list of nodes against the evidence.

    `log_evidence` (h,); `cells` (h, c) and `draws` (h, c, d) shares within a set; `numbers` (h, c, q) and
    `spreads` (h, q) what each would still predict, on the scale compared; `kept` the nodes that these are.
    """

    sets: tuple[tuple[str, ...], ...]
    log_evidence: Array
    cells: Array
    draws: Array
    numbers: Array
    spreads: Array
    nodes: Nodes
    kept: Rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """Chance of each set, likeliest first in `order`; the empty set is "nothing wrong"."""

    sets: tuple[tuple[str, ...], ...]
    chances: Array
    log_score: float
    weighed: tuple[Weighed, ...]

    def of(self, key: str) -> float:
        """Chance that this fault is there, alone or with another."""
        return float(sum(chance for each, chance in zip(self.sets, self.chances, strict=True) if key in each))

    def faults(self) -> Mapping[str, float]:
        """Chance of each fault, alone or with another; "unknown" for what the catalogue lacks."""
        found: dict[str, float] = {}
        for each, chance in zip(self.sets, self.chances, strict=True):
            for key in each:
                found[key] = found.get(key, 0.0) + float(chance)
        return found

    @property
    def sound(self) -> float:
        """Chance that nothing is wrong."""
        return float(self.chances[self.sets.index(())])


def posterior(bank: Bank, evidence: Evidence, *, pairs: bool = True) -> Posterior:
    """Chances of all suspicions. `pairs=False` answers at once, before pairs of faults are looked at."""
    alone = weigh(bank, bank.singles, evidence)
    parts = [alone]
    if pairs:
        parts.append(weigh(bank, bank.pairs, evidence, most=PAIRS_LOOKED_AT))
    unknown = _unknown(bank, evidence, alone)
    sets = (*(each for part in parts for each in part.sets), (UNKNOWN_KEY,))
    logs = np.concatenate([*(part.log_evidence for part in parts), [unknown]])
    top = float(logs.max())
    weights = np.exp(logs - top)
    return Posterior(
        sets=sets,
        chances=weights / weights.sum(),
        log_score=top + float(np.log(weights.sum())),
        weighed=tuple(parts),
    )


def weigh(bank: Bank, nodes: Nodes, evidence: Evidence, *, most: int | None = None) -> Weighed:
    """One list of sets against the evidence; with `most`, only the likeliest by a coarse weighing."""
    states = _states(nodes, evidence) + _gates(nodes, evidence)
    log_draws = states - np.log(states.shape[2])
    log_cells = _logsum(log_draws, axis=2) + _tried(bank, nodes, evidence)
    exact = [key for key in QUANTITIES if key in evidence.numbers]
    columns = np.array([COLUMN[key] for key in exact], dtype=np.intp)
    kept = np.arange(len(nodes.sets))
    if most is not None and len(kept) > most:
        coarse = _coarse(bank, nodes, evidence, columns)
        rough = nodes.log_prior + _logsum(log_cells + coarse, axis=1)
        kept = np.sort(np.argpartition(-rough, most)[:most])
    numbers, spreads, log_numbers = _numbers(bank, nodes, evidence, exact, columns, kept)
    cells = log_cells[kept] + log_numbers - np.log(log_cells.shape[1])
    total = _logsum(cells, axis=1)
    draws = log_draws[kept]
    return Weighed(
        sets=tuple(nodes.sets[at] for at in kept),
        log_evidence=nodes.log_prior[kept] + total,
        cells=np.exp(cells - total[:, None]),
        draws=np.exp(draws - _logsum(draws, axis=2)[:, :, None]),
        numbers=numbers,
        spreads=spreads,
        nodes=nodes,
        kept=kept,
    )


def read_spread(bank: Bank, key: str, evidence: Evidence) -> float:
    """Standard deviation of one number as read, on the scale compared: repeat and instrument together."""
    quantity, number = QUANTITIES[key], evidence.numbers.get(key)
    scale = 1.0
    if quantity.floor > 0.0:
        scale = 1.0 / (max(number.value, 0.0) + quantity.floor) if number else 0.0
    return float(np.hypot(quantity.slack, number.spread * scale if number else 0.0))


def _on_scale(key: str, value: float) -> float:
    floor = FLOORS[COLUMN[key]]
    return float(np.log(max(value, 0.0) + floor)) if floor > 0.0 else value


def _numbers(
    bank: Bank, nodes: Nodes, evidence: Evidence, exact: Sequence[str], columns: Rows, kept: Rows
) -> tuple[Array, Array, Array]:
    """Conditional means (h, c, q) and spreads (h, q) of every number, and the log density of those read."""
    mean, slopes = nodes.mean[kept], nodes.slopes[kept]
    covariance = bank.baseline.covariance
    spread_slopes = slopes @ np.linalg.cholesky(covariance)
    own = np.sum(spread_slopes**2, axis=2)
    sides = np.array([evidence.numbers[key].side is Side.EXACT for key in exact], dtype=bool)
    full = columns[sides]
    read = np.array([_on_scale(key, evidence.numbers[key].value) for key in exact])
    noise = np.array([read_spread(bank, key, evidence) for key in exact])
    log = np.zeros(mean.shape[:2])
    if full.size:
        seen = spread_slopes[:, full, :]
        inner = seen @ np.swapaxes(seen, 1, 2) + np.diag(noise[sides] ** 2)
        lower = np.linalg.cholesky(inner)
        residual = read[sides] - mean[:, :, full]
        white = np.linalg.solve(lower, np.swapaxes(residual, 1, 2))
        log_root = np.sum(np.log(np.diagonal(lower, axis1=1, axis2=2)), axis=1)
        # A heavy tail: one reading gone wrong must not decide alone.
        distance = np.sum(white**2, axis=1)
        k = full.size
        log = -0.5 * (_TAIL + k) * np.log1p(distance / _TAIL)
        log = log - log_root[:, None] - 0.5 * k * np.log(2 * np.pi)
        cross = spread_slopes @ np.swapaxes(seen, 1, 2)
        gain = np.swapaxes(np.linalg.solve(lower, np.swapaxes(cross, 1, 2)), 1, 2)
        mean = mean + np.swapaxes(gain @ white, 1, 2)
        own = np.maximum(own - np.sum(gain**2, axis=2), 0.0)
    for key, value, width, is_exact in zip(exact, read, noise, sides, strict=True):
        if is_exact:
            continue
        at = COLUMN[key]
        beyond = (mean[:, :, at] - value) / np.sqrt(own[:, at] + width**2)[:, None]
        log = log + log_cumulative(beyond if evidence.numbers[key].side is Side.ABOVE else -beyond)
    return mean, np.sqrt(own), log


_TAIL = 12.0
"""Degrees of freedom of the density of all numbers together: nearly Gaussian, with a heavier tail."""


def _coarse(bank: Bank, nodes: Nodes, evidence: Evidence, columns: Rows) -> Array:
    """Log density of the numbers as if each were alone, (h, c): enough to find the pairs worth weighing."""
    if not columns.size:
        return np.zeros(nodes.mean.shape[:2])
    spread_slopes = nodes.slopes[:, columns, :] @ np.linalg.cholesky(bank.baseline.covariance)
    keys = [list(QUANTITIES)[at] for at in columns]
    noise = np.array([read_spread(bank, key, evidence) for key in keys])
    read = np.array([_on_scale(key, evidence.numbers[key].value) for key in keys])
    variance = np.sum(spread_slopes**2, axis=2) + noise**2
    off = (nodes.mean[:, :, columns] - read) ** 2 / variance[:, None, :]
    return np.asarray(-0.5 * np.sum(np.minimum(off, 40.0) + np.log(variance)[:, None, :], axis=2))


def _states(nodes: Nodes, evidence: Evidence) -> Array:
    """Log chance of all states seen, (h, c, d)."""
    log = np.zeros(nodes.lit.shape)
    for reading in sorted(evidence.states):
        if reading not in nodes.chances:
            continue
        log = log + np.log(np.maximum(nodes.chances[reading] @ _weights(reading, nodes, evidence), 1e-9))
    return log


def _weights(reading: str, nodes: Nodes, evidence: Evidence) -> Array:
    """How far each state fits what was seen; an unsure look weighs several."""
    return np.asarray(list(evidence.states[reading].values()))


def _gates(nodes: Nodes, evidence: Evidence) -> Array:
    """What the mere existence of a reading says: no flue gas without a flame."""
    log = np.zeros(nodes.lit.shape)
    needs_flame = any(QUANTITIES[key].needs_flame for key in evidence.numbers)
    needs_trial = any(QUANTITIES[key].needs_trial for key in evidence.numbers)
    if needs_trial and not needs_flame:
        log = log + np.log(np.maximum(nodes.asked, 1e-4))
    if needs_flame:
        # Some are read in the minutes before it dies.
        log = log + np.log(np.maximum(nodes.lit * (0.3 + 0.7 * nodes.runs), 1e-4))
    elif "time_to_light" in evidence.numbers:
        log = log + np.log(np.maximum(nodes.lit, 1e-4))
    if "run_time_before_stop" in evidence.numbers:
        log = log + np.log(np.maximum(nodes.lit * (1.0 - nodes.runs), 1e-4))
    return log


def _tried(bank: Bank, nodes: Nodes, evidence: Evidence) -> Array:
    """Log chance of how trials and repairs ended, (h, c)."""
    log = np.zeros(nodes.mean.shape[:2])
    for key in sorted(evidence.trials):
        outcome = evidence.trials[key]
        if outcome is Outcome.NOT_DONE or key not in nodes.cured:
            continue
        cured = nodes.cured[key]
        log = log + np.log(cured if outcome is Outcome.CURED else 1.0 - cured)
    for key in sorted(evidence.repairs):
        outcome = evidence.repairs[key]
        if outcome is Outcome.NOT_DONE or key not in bank.faults:
            continue
        chance = np.array([_cured_by(key, each) for each in nodes.sets])
        log = log + np.log(chance if outcome is Outcome.CURED else 1.0 - chance)[:, None]
    return log


def _cured_by(repair: str, faults: tuple[str, ...]) -> float:
    """Chance that the heater runs well after this repair."""
    if not faults or faults == (repair,):
        return 1.0 - REPAIR_FAILS
    return CURED_BY_CHANCE


def _unknown(bank: Bank, evidence: Evidence, alone: Weighed) -> float:
    """Log weight of a fault that nobody wrote down: a sound heater's numbers, far wider; mean states."""
    nodes = alone.nodes
    log = float(np.log(UNKNOWN_SHARE))
    for key in sorted(evidence.numbers):
        at = COLUMN[key]
        width = np.sqrt(
            np.sum((nodes.slopes[0, at] * UNKNOWN_WIDTH) ** 2) + read_spread(bank, key, evidence) ** 2
        )
        # What the known faults reach, an unknown one reaches too.
        width = float(np.hypot(width, 0.7 * np.std(nodes.mean[:, :, at])))
        off = (_on_scale(key, evidence.numbers[key].value) - nodes.mean[0, 0, at]) / width
        log += float(-0.5 * off**2 - np.log(width) - 0.5 * np.log(2 * np.pi))
    for reading in sorted(evidence.states):
        if reading in nodes.chances:
            chances = nodes.chances[reading]
            mean = 0.5 * chances.mean(axis=(0, 1, 2)) + 0.5 / chances.shape[3]
            log += float(np.log(mean @ _weights(reading, nodes, evidence)))
    for key, outcome in sorted(evidence.repairs.items()):
        if key in bank.faults and outcome is not Outcome.NOT_DONE:
            log += float(np.log(CURED_BY_CHANCE if outcome is Outcome.CURED else 1.0 - CURED_BY_CHANCE))
    for key, outcome in sorted(evidence.trials.items()):
        if key in nodes.cured and outcome is not Outcome.NOT_DONE:
            mean_cured = float(nodes.cured[key].mean())
            log += float(np.log(mean_cured if outcome is Outcome.CURED else 1.0 - mean_cured))
    return log


def _logsum(values: Array, axis: int) -> Array:
    top = values.max(axis=axis, keepdims=True)
    summed = np.log(np.sum(np.exp(values - top), axis=axis, keepdims=True)) + top
    return np.asarray(np.squeeze(summed, axis=axis))
