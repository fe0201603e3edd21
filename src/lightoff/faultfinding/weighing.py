"""All numbers, states and outcomes against the nodes of the bank, by the linear model of each.

At a node all numbers are jointly Gaussian with one unknown common scale: spread of the parameters through
the slopes, plus what the reading itself leaves open. Severity is laid out finer than the bank's cells by
interpolating between them; a pair's numbers are those of its faults added up, plus what they do to each
other at the bank's four nodes.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lightoff.faultfinding.bank import CELLS, PAIR_CELLS, Bank, Nodes, Places, midpoints
from lightoff.faultfinding.densities import log_student, log_sum
from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.faultfinding.observed import (
    Read,
    fit_log,
    gates,
    read,
    repaired_log,
    side_log,
    tried,
)
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array

FINE, PAIR_FINE = 4, 3
"""How much finer than a cell severity is laid out, along each fault."""
PAIRS_LOOKED_AT = 200
"""Pairs weighed with their own spreads, the likeliest by a coarse weighing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """One list of nodes against the evidence.

    `log_prior` (h,), of pairs with that of the pairs left out spread over them; `log_evidence` (h,) with it;
    `cells` (h, c) and `draws` (h, c, d) shares within a set; `numbers` (h, c, q) and `spreads` (h, q) what
    each would still predict, on the scale compared; `severities` (h, f) shares of the fine steps of severity;
    `kept` the nodes that these are. What the shares were made of: `looks` (h, c, d) log chance of all states,
    `outcomes` (h, c) of trials and repairs, and the numbers told exactly, their distance `off` from the mean
    (h, f, k) and `precision` (h, k, k).
    """

    sets: tuple[tuple[str, ...], ...]
    log_prior: Array
    log_evidence: Array
    cells: Array
    draws: Array
    numbers: Array
    spreads: Array
    severities: Array
    looks: Array
    outcomes: Array
    off: Array
    precision: Array
    nodes: Nodes
    kept: Places

    def only(self, places: Places) -> Weighed:
        """Of its sets those at these places."""
        names = ("log_prior", "log_evidence", "cells", "draws", "numbers", "spreads", "severities", "looks",
                 "outcomes", "off", "precision", "kept")  # fmt: skip
        held = {name: getattr(self, name)[places] for name in names}
        return replace(self, sets=tuple(self.sets[at] for at in places), **held)


def weigh(bank: Bank, nodes: Nodes, evidence: Evidence, *, most: int | None = None) -> Weighed:
    """One list of sets against the evidence; with `most`, only the likeliest by a coarse weighing."""
    told = read(bank, evidence)
    states, outcomes = _states(nodes, evidence), _outcomes(bank, nodes, evidence)
    log_draws = states - np.log(states.shape[2])
    log_cells = log_sum(log_draws, axis=2) + outcomes
    kept, left_out = np.arange(len(nodes.sets)), 0.0
    if most is not None and len(kept) > most:
        rough = nodes.log_prior + _coarse(bank, nodes, told, log_cells)
        kept = np.sort(np.argpartition(-rough, most)[:most])
        # What little evidence has not told apart counts with those that were kept.
        left_out = float(log_sum(rough, axis=0) - log_sum(rough[kept], axis=0))
    numbers, spreads, log_numbers, off, precision = _numbers(bank, nodes, told, kept)
    fine = over_fine(log_cells[kept], nodes) + log_numbers
    total = log_sum(fine, axis=1)
    severities = np.exp(fine - total[:, None])
    draws = log_draws[kept]
    return Weighed(
        sets=tuple(nodes.sets[at] for at in kept),
        log_prior=nodes.log_prior[kept] + left_out,
        log_evidence=nodes.log_prior[kept] + left_out + total - np.log(fine.shape[1]),
        cells=by_cell(severities, nodes),
        draws=np.exp(draws - log_sum(draws, axis=2)[:, :, None]),
        numbers=numbers,
        spreads=spreads,
        severities=severities,
        looks=draws,
        outcomes=outcomes[kept],
        off=off,
        precision=precision,
        nodes=nodes,
        kept=kept,
    )


def fine_steps(nodes: Nodes) -> tuple[Array, Array]:
    """Severities of the first and of the second fault at the fine steps, 0 to 1, that broadcast to them."""
    if not nodes.of_pairs:
        steps = midpoints(CELLS * FINE)[:, None]
        return steps, steps
    grid = midpoints(PAIR_CELLS * PAIR_FINE)
    return grid[:, None], grid[None, :]


def means_at(
    bank: Bank, nodes: Nodes, kept: Places, *, at: Places, severities: tuple[Array, Array], columns: Places
) -> Array:
    """Numbers with the parameters at the middle, (..., k), of the sets `kept`, those `at` these places among
    them, at the `severities` of the first and of the second fault; the three broadcast."""
    alone = bank.singles.mean[:, :, columns]
    one, two = nodes.parts[kept].T
    first = _between(alone, one[at], severities[0])
    if not nodes.of_pairs:
        return first
    apart = _between(alone, np.arange(len(alone))[:, None], midpoints(PAIR_CELLS))
    beyond = nodes.mean[kept][:, :, columns].reshape(len(kept), PAIR_CELLS, PAIR_CELLS, len(columns))
    beyond = beyond - apart[one][:, :, None] - apart[two][:, None, :]
    (row, down), (column, across) = (_corner(each) for each in severities)
    extra = sum(
        ((down if i else 1.0 - down) * (across if j else 1.0 - across))[..., None]
        * beyond[at, row + i, column + j]
        for i, j in ((0, 0), (0, 1), (1, 0), (1, 1))
    )
    return np.asarray(first + _between(alone, two[at], severities[1]) + extra)


def _between(values: Array, at: Places, severity: Array) -> Array:
    """Straight lines through the midpoints of a fault's cells, and on beyond the outer ones, (..., k)."""
    place = severity * CELLS - 0.5
    left = np.clip(place.astype(np.intp), 0, CELLS - 2)
    start = values[at, left]
    return np.asarray(start + (place - left)[..., None] * (values[at, left + 1] - start))


def _corner(severity: Array) -> tuple[Places, Array]:
    """The pairs' cell before a severity, and how far it is from its midpoint to that of the next."""
    place = np.clip(severity * PAIR_CELLS - 0.5, 0.0, PAIR_CELLS - 1.0)
    left = np.minimum(place.astype(np.intp), PAIR_CELLS - 2)
    return left, place - left


def _numbers(bank: Bank, nodes: Nodes, told: Read, kept: Places) -> tuple[Array, Array, Array, Array, Array]:
    """What every number would still be, (h, c, q) and (h, q); of those read the log density, (h, f), how far
    off each is, (h, f, k), and their precision, (h, k, k)."""
    steps = fine_steps(nodes)
    mean, count = nodes.mean[kept], told.columns.size
    spreads, log = nodes.widths[kept], np.zeros((len(kept), np.broadcast(*steps).size))
    off, precision = np.zeros((*log.shape, count)), np.zeros((len(kept), count, count))
    if count:
        slopes = bank.slopes_of(nodes.parts[kept])
        seen = slopes[:, told.columns, :]
        lower = np.linalg.cholesky(seen @ np.swapaxes(seen, 1, 2) + np.diag(told.noise**2))
        log_root = np.sum(np.log(np.diagonal(lower, axis1=1, axis2=2)), axis=1)
        turned = np.swapaxes(np.linalg.inv(lower), 1, 2)
        every = np.arange(len(kept))[:, None, None]
        fine = means_at(bank, nodes, kept, at=every, severities=steps, columns=told.columns)
        off, precision = told.values - fine.reshape(off.shape), turned @ np.swapaxes(turned, 1, 2)
        distance = np.sum((off @ turned) ** 2, axis=2)
        log = log_student(distance, log_root[:, None], count=count, tail=bank.beliefs.tail)
        gain = slopes @ (np.swapaxes(seen, 1, 2) @ turned)
        white = (told.values - mean[:, :, told.columns]) @ turned
        mean = mean + white @ np.swapaxes(gain, 1, 2)
        scale = (bank.beliefs.tail + distance.min(axis=1)) / (bank.beliefs.tail + count)
        left = np.maximum(spreads**2 - np.sum(gain**2, axis=2), 0.0)
        spreads = np.sqrt(left * scale[:, None])
    for column, value, noise, side in told.beyond:
        spread = np.hypot(spreads[:, column], noise)[:, None]
        log = log + over_fine(side_log(mean[:, :, column], spread, value, side), nodes)
    return mean, spreads, log, off, precision


def _coarse(bank: Bank, nodes: Nodes, told: Read, log_cells: Array) -> Array:
    """Rough log evidence of pairs, (h,): as if all numbers spread as in a sound heater."""
    if not told.columns.size:
        return log_sum(log_cells, axis=1)
    sound, columns = bank.slopes[0][told.columns], told.columns
    lower = np.linalg.cholesky(sound @ sound.T + np.diag(told.noise**2))
    turned = np.linalg.inv(lower).T
    white = (told.values - nodes.mean[:, :, columns]) @ turned
    far = np.einsum("hck,hck->hc", white, white)
    log = log_student(far, np.zeros(1), count=columns.size, tail=bank.beliefs.tail)
    return log_sum(log + log_cells, axis=1)


def over_fine(cells: Array, nodes: Nodes) -> Array:
    """Values of the cells at the fine steps, straight lines between them and level beyond, (h, f)."""
    if not nodes.of_pairs:
        return np.asarray(cells @ _level(CELLS, FINE))
    level = _level(PAIR_CELLS, PAIR_FINE)
    return np.asarray(cells @ np.kron(level, level))


def _level(cells: int, fine: int) -> Array:
    """Weights of the cells at the fine steps of one severity, (cells, steps)."""
    steps = midpoints(cells * fine)
    return np.stack([np.interp(steps, midpoints(cells), row) for row in np.eye(cells)])


def by_cell(fine: Array, nodes: Nodes) -> Array:
    """Shares of the fine steps gathered by cell, (h, c)."""
    if not nodes.of_pairs:
        return np.asarray(fine.reshape(len(fine), CELLS, FINE).sum(axis=2))
    shaped = fine.reshape(len(fine), PAIR_CELLS, PAIR_FINE, PAIR_CELLS, PAIR_FINE)
    return np.asarray(shaped.sum(axis=(2, 4)).reshape(len(fine), PAIR_CELLS**2))


def _states(nodes: Nodes, evidence: Evidence) -> Array:
    """Log chance of all states seen, and that the numbers could be read, (h, c, d)."""
    log = gates(evidence, nodes.lit, nodes.runs, nodes.asked)
    for reading in sorted(evidence.states):
        if reading in nodes.chances:
            log = log + fit_log(nodes.chances[reading], evidence.states[reading])
    return log


def _outcomes(bank: Bank, nodes: Nodes, evidence: Evidence) -> Array:
    """Log chance of how trials and repairs ended, (h, c)."""
    log = np.zeros(nodes.mean.shape[:2])
    for key, well in tried(bank, evidence):
        log = log + np.log(nodes.cured[key] if well else 1.0 - nodes.cured[key])
    if any(outcome is not Outcome.NOT_DONE for outcome in evidence.repairs.values()):
        log = log + repaired_log(bank, evidence, nodes.sets)[:, None]
    return log
