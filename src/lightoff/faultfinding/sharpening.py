"""The likely sets again, with rows of the model itself instead of its straight lines.

Rows are laid out by each set's linear posterior from one fixed table of numbers, and each is weighed with
the true model against the line it was laid out by. So what bends, saturates or breaks off (a flame that
dies, an igniter at the edge of lighting) counts as it is, and states count at the very parameters that the
numbers speak for. Basis: robert_2004 (importance sampling).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lightoff.faultfinding.bank import Bank, Places
from lightoff.faultfinding.densities import log_student, log_sum
from lightoff.faultfinding.evidence import Evidence
from lightoff.faultfinding.looks import LAST_WORK
from lightoff.faultfinding.observed import (
    Read,
    fit_log,
    gates,
    read,
    repaired_log,
    side_log,
    tried,
)
from lightoff.faultfinding.weighing import Weighed, fine_steps, means_at
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.plant.model import Prediction
from lightoff.plant.parameters import PARAMETERS, normal_rows
from lightoff.plant.quantities import QUANTITIES, compared

ROWS, LEAST_ROWS, MOST_ROWS = 2048, 8, 256
SHARP_SETS = 40
"""Sets weighed again, the likeliest by the linear model; what is left is one in a hundred or so."""
FLAT = 0.2
"""Share of the rows laid out evenly over severity."""
LINEAR_VARIANCE = 0.25
"""How far the linear model errs in the logarithm of a set's evidence, squared; measured on made-up cases."""


@dataclass(frozen=True, slots=True)
class _Rows:
    """Rows of several sets, one set after the other: shifts (n, p), places of the faults and severities
    (n, 2), the common scale drawn (n,), and log of the prior over what they were laid out by (n,)."""

    shifts: Array
    parts: Places
    severities: Array
    scale: Array
    log: Array


def sharpened(bank: Bank, evidence: Evidence, parts: Sequence[Weighed], unknown: float) -> list[Array]:
    """Log evidence of each part's sets, those that matter weighed by the model itself.

    A set with few telling rows keeps part of its linear evidence, and what the linear model misses in all
    of them it is taken to miss in the others.
    """
    every = np.concatenate([part.log_evidence for part in parts])
    chances = np.exp(every - np.logaddexp(log_sum(every, axis=0), unknown))
    chosen = np.sort(np.argsort(-chances, kind="stable")[:SHARP_SETS])
    counts = _counts(chances[chosen])
    starts = np.cumsum([0, *(len(part.sets) for part in parts)])
    told, laid = read(bank, evidence), []
    for part, start, end in zip(parts, starts[:-1], starts[1:], strict=True):
        here = (chosen >= start) & (chosen < end)
        if here.any():
            laid.append(_laid(bank, told, part, chosen[here] - start, counts[here]))
    log = np.split(_weighed(bank, evidence, told, laid), np.cumsum(counts)[:-1])
    prior = np.concatenate([part.log_prior for part in parts])[chosen]
    total = np.array([log_sum(each, axis=0) for each in log])
    sharp = total - np.log(counts) + prior
    # One over the number of rows that tell: how far chance in the rows moves the logarithm, squared.
    chance = np.exp(np.array([log_sum(2.0 * each, axis=0) for each in log]) - 2.0 * total)
    missed = sharp - every[chosen]
    weights = chances[chosen] / (LINEAR_VARIANCE + chance)
    common = float(np.sum(weights * missed) / np.sum(weights))
    every = every + common
    every[chosen] += LINEAR_VARIANCE / (LINEAR_VARIANCE + chance) * (missed - common)
    return np.split(every, starts[1:-1])


def _counts(chances: Array) -> Places:
    """How many rows each set gets: where the error of its chance would weigh most."""
    shares = chances ** (2.0 / 3.0)
    even = 2.0 * np.round(0.5 * ROWS * shares / shares.sum())
    return np.asarray(np.clip(even, LEAST_ROWS, MOST_ROWS), dtype=np.intp)


def _laid(bank: Bank, told: Read, part: Weighed, places: Places, counts: Places) -> _Rows:
    """Rows by the linear posteriors of these sets of one part."""
    kept, k = part.kept[places], told.columns.size
    of_set = np.repeat(np.arange(len(places)), counts)
    table = _TABLE[np.concatenate([np.arange(count) for count in counts])]
    severities, log = _severities(part, places, counts, of_set)
    off = told.values - means_at(
        bank,
        part.nodes,
        kept,
        at=of_set,
        severities=(severities[:, 0], severities[:, 1]),
        columns=told.columns,
    )
    seen = bank.slopes_of(part.nodes.parts[kept], told.columns)
    lower = np.linalg.cholesky(seen @ np.swapaxes(seen, 1, 2) + np.diag(told.noise**2))
    log_root = np.sum(np.log(np.diagonal(lower, axis1=1, axis2=2)), axis=1)
    turned = np.swapaxes(np.linalg.inv(lower), 1, 2)
    slices = [slice(end - count, end) for end, count in zip(np.cumsum(counts), counts, strict=True)]
    distance = np.concatenate(
        [np.sum((off[rows] @ turned[at]) ** 2, axis=1) for at, rows in enumerate(slices)]
    )
    scale = (bank.beliefs.tail + distance) / _chi_square(table[:, -1], bank.beliefs.tail + k)
    root = np.sqrt(scale)[:, None]
    drawn, blur = table[:, : len(PARAMETERS)] * root, table[:, len(PARAMETERS) :][:, :k] * root * told.noise
    left = off - blur
    for at, rows in enumerate(slices):
        missed = left[rows] - drawn[rows] @ seen[at].T
        drawn[rows] += missed @ turned[at] @ (turned[at].T @ seen[at])
        left[rows] = off[rows] - drawn[rows] @ seen[at].T
    # What the true model is set against: the line's density of what was read, over its mean in the set.
    log = log + log_student(distance, log_root[of_set], count=k, tail=bank.beliefs.tail)
    log = log + 0.5 * np.sum((left / told.noise) ** 2, axis=1) / scale
    faults = part.nodes.parts[kept][of_set]
    shifts = bank.shifts(faults, severities) + (drawn @ bank.root.T) * bank.spreads
    return _Rows(shifts, faults, severities, scale, log)


def _severities(part: Weighed, places: Places, counts: Places, of_set: Places) -> tuple[Array, Array]:
    """Severities laid out evenly over their posteriors, (n, 2), and log of prior over proposal, (n,)."""
    first, second = np.broadcast_arrays(*fine_steps(part.nodes))
    steps = np.stack([first.ravel(), second.ravel()], axis=1)
    share = (1.0 - FLAT) * part.severities[places] + FLAT / len(steps)
    share /= share.sum(axis=1, keepdims=True)
    edges = np.cumsum(share, axis=1) + np.arange(len(places))[:, None]
    # Evenly over the chances, in the table's own order, so that severity goes with no column of it.
    spots = np.concatenate([(np.argsort(np.argsort(_ORDER[:count])) + 0.5) / count for count in counts])
    at = np.searchsorted(edges.reshape(-1), spots + of_set, side="right") - of_set * len(steps)
    at = np.clip(at, 0, len(steps) - 1)
    width = share[of_set, at]
    inside = np.clip(1.0 - (edges[of_set, at] - of_set - spots) / width, 0.0, 1.0) - 0.5
    if not part.nodes.of_pairs:
        jitter = np.stack([inside, inside], axis=1)
    else:
        across = np.concatenate([_SECOND[:count] for count in counts])
        jitter = np.stack([inside, across - 0.5], axis=1)
    return steps[at] + jitter / len(first), -np.log(width * len(steps))


def _weighed(bank: Bank, evidence: Evidence, told: Read, laid: Sequence[_Rows]) -> Array:
    """Log weight of every row under the model itself, (n,)."""
    shifts, parts, severities, scale, log = (
        np.concatenate([getattr(each, name) for each in laid])
        for name in ("shifts", "parts", "severities", "scale", "log")
    )
    looked = any(reading in bank.physical for reading in evidence.states)
    seen = bank.predict(shifts, with_signs=looked)
    numeric = compared(seen.numeric)
    log = log - 0.5 * np.sum(((told.values - numeric[:, told.columns]) / told.noise) ** 2, axis=1) / scale
    for column, value, noise, side in told.beyond:
        log = log + side_log(numeric[:, column], noise * np.sqrt(scale), value, side)
    log = log + gates(evidence, seen.lit, seen.running / np.maximum(seen.lit, 1e-12), seen.asked)
    log = log + _states(bank, evidence, seen, parts, severities)
    for key, well in tried(bank, evidence):
        cured = bank.cured(bank.trials[key], shifts)
        log = log + np.log(cured if well else 1.0 - cured)
    if evidence.repairs:
        names = ("", *bank.keys)
        unlike, of_row = np.unique(parts, axis=0, return_inverse=True)
        sets = [tuple(names[place] for place in each if place) for each in unlike.tolist()]
        log = log + repaired_log(bank, evidence, sets)[of_row.reshape(-1)]
    return np.asarray(log)


def _states(bank: Bank, evidence: Evidence, seen: Prediction, parts: Places, severities: Array) -> Array:
    log = np.zeros(len(parts))
    for reading in sorted(evidence.states):
        fits = evidence.states[reading]
        if reading in bank.physical:
            log = log + fit_log(seen.chances[reading], fits)
        elif reading in bank.shown:
            log = log + fit_log(bank.looks(reading, parts, severities), fits)
        elif reading == LAST_WORK:
            log = log + fit_log(bank.last_work(parts), fits)
    return log


def _chi_square(normal: Array, freedom: float) -> Array:
    """Chi-square numbers from standard normal ones. Basis: wilson_hilferty_1931."""
    step = 2.0 / (9.0 * freedom)
    return np.asarray(freedom * (1.0 - step + normal * np.sqrt(step)) ** 3)


def _table() -> Array:
    """Fixed standard normal rows in opposite pairs: parameters, readings, scale; (rows, columns)."""
    half = normal_rows(np.random.default_rng(18_980_229), MOST_ROWS // 2, more=len(QUANTITIES) + 1)
    return np.stack([half, -half], axis=1).reshape(MOST_ROWS, -1)


_TABLE = _table()
_ORDER = np.random.default_rng(19_040_229).random(MOST_ROWS)
_SECOND = np.random.default_rng(19_080_229).random(MOST_ROWS)
