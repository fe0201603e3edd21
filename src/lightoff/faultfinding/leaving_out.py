"""What each reading says that the others do not: the posterior without it, at once for all of them.

With the numbers of a set jointly Gaussian under one common scale, leaving one out is exact from the
precision alone (rasmussen_2006, section 5.4.2); a state, a trial and a number known only to one side are
taken out of the sums they went into. What the likely sets gained by the model itself stays with them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.densities import log_student, log_sum
from lightoff.faultfinding.evidence import Evidence
from lightoff.faultfinding.observed import Read, fit_log, read, side_log, tried
from lightoff.faultfinding.posterior import Posterior
from lightoff.faultfinding.weighing import Weighed, by_cell, over_fine
from lightoff.ground.values import dataclass
from lightoff.physics.normal import cumulative
from lightoff.physics.uncertain import Array
from lightoff.plant.quantities import QUANTITIES

_NAMES = tuple(QUANTITIES)
_SAME = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One reading under each set, (h,) each: `alone` the log chance of it before anything else is known,
    `after` with all the others known; `tail` the chance of one so odd, the others known. Of a number, what
    was to be expected of it with the others known, `middle` and `spread` on the scale compared."""

    alone: Array
    after: Array
    tail: Array
    middle: Array
    spread: Array


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """Each reading left out of a posterior. `log_prior` and `log_all` (h,), of all sets but the unknown."""

    sets: tuple[tuple[str, ...], ...]
    log_prior: Array
    log_all: Array
    by_reading: Mapping[str, Said]

    @cached_property
    def chances(self) -> Mapping[str, Array]:
        """By reading the chance of each set had it not been taken, (h,), of all that the catalogue has."""
        return {key: _shares(self.log_all - said.after) for key, said in self.by_reading.items()}

    def faults(self, key: str) -> Mapping[str, float]:
        """Chance of each fault had this reading not been taken."""
        found: dict[str, float] = {}
        for each, chance in zip(self.sets, self.chances[key].tolist(), strict=True):
            for fault in each:
                found[fault] = found.get(fault, 0.0) + chance
        return found


def left_out(bank: Bank, evidence: Evidence, found: Posterior) -> LeftOut:
    """Every number, state and trial of a posterior left out in turn."""
    parts = [_part(bank, evidence, part) for part in found.weighed]
    return LeftOut(
        sets=found.sets[:-1],
        log_prior=np.concatenate([part.log_prior for part in found.weighed]),
        log_all=np.log(np.maximum(found.chances[:-1], 1e-300)),
        by_reading={key: _joined([part[key] for part in parts]) for key in parts[0]},
    )


def _joined(parts: Sequence[Said]) -> Said:
    names = ("alone", "after", "tail", "middle", "spread")
    return Said(**{name: np.concatenate([getattr(each, name) for each in parts]) for name in names})


def _part(bank: Bank, evidence: Evidence, part: Weighed) -> Mapping[str, Said]:
    sums = _sums(bank, evidence, part)
    return {
        **_exact(bank, sums),
        **_one_sided(sums),
        **_states(evidence, sums),
        **_trials(bank, evidence, sums),
    }


@dataclass(frozen=True, kw_only=True)
class _Sums:
    """What the log evidence of a part is the sum of, at the fine steps of severity (h, f): `numbers` told
    exactly, each one `beyond` by its column; `cells` (h, c) the states, trials and repairs. `distance` (h, f)
    and `log_det` (h,) are of the numbers."""

    part: Weighed
    told: Read
    cells: Array
    numbers: Array
    beyond: Mapping[int, Array]
    distance: Array
    log_det: Array

    @cached_property
    def fine(self) -> Array:
        """All of it, (h, f)."""
        return self.with_cells(self.cells)

    @cached_property
    def total(self) -> Array:
        """Log chance of all of it, (h,)."""
        return _mean(self.fine)

    def with_cells(self, cells: Array) -> Array:
        """All of it with other states, trials and repairs, (h, f)."""
        return np.asarray(over_fine(cells, self.part.nodes) + self.numbers + sum(self.beyond.values()))

    def after(self, rest: Array) -> Array:
        """Log chance of what is missing in `rest`, the rest known, (h,)."""
        return self.total - _mean(rest)


def _sums(bank: Bank, evidence: Evidence, part: Weighed) -> _Sums:
    told = read(bank, evidence)
    distance = np.einsum("hfi,hij,hfj->hf", part.off, part.precision, part.off, optimize=True)
    log_det = np.linalg.slogdet(part.precision)[1]
    return _Sums(
        part=part,
        told=told,
        cells=log_sum(part.looks, axis=2) + part.outcomes,
        numbers=log_student(
            distance, -0.5 * log_det[:, None], count=told.columns.size, tail=bank.beliefs.tail
        ),
        beyond={
            column: over_fine(
                side_log(part.numbers[:, :, column], _wide(part.spreads, column, noise), value, side),
                part.nodes,
            )
            for column, value, noise, side in told.beyond
        },
        distance=distance,
        log_det=log_det,
    )


def _exact(bank: Bank, sums: _Sums) -> Mapping[str, Said]:
    """Numbers: out of the precision come each one's own, and how far it is from what the others say."""
    part, told, tail = sums.part, sums.told, bank.beliefs.tail
    count, found = told.columns.size, dict[str, Said]()
    others = sums.fine - sums.numbers
    for at, column in enumerate(told.columns):
        own = part.precision[:, at, at]
        pull = np.einsum("hj,hfj->hf", part.precision[:, at, :], part.off)
        distance = np.maximum(sums.distance - pull**2 / own[:, None], 0.0)
        log_root = -0.5 * (sums.log_det - np.log(own))[:, None]
        rest = others + log_student(distance, log_root, count=count - 1, tail=tail)
        missed = pull / own[:, None]
        scale = np.sqrt((tail + distance) / (tail + count - 1) / own[:, None])
        weights, expected = _weights(rest), told.values[at] - missed
        middle = np.sum(weights * expected, axis=1)
        variance = np.sum(weights * (scale**2 + (expected - middle[:, None]) ** 2), axis=1)
        width = _wide(part.nodes.widths[part.kept], column, float(told.noise[at]))
        alone = log_student((part.off[:, :, at] / width) ** 2, np.log(width), count=1, tail=tail)
        found[_NAMES[column]] = Said(
            alone=_mean(alone),
            after=sums.after(rest),
            tail=np.sum(weights * 2.0 * cumulative(-np.abs(missed) / scale), axis=1),
            middle=middle,
            spread=np.sqrt(variance),
        )
    return found


def _one_sided(sums: _Sums) -> Mapping[str, Said]:
    part, found = sums.part, dict[str, Said]()
    for column, value, noise, side in sums.told.beyond:
        rest = sums.fine - sums.beyond[column]
        after, numbers = sums.after(rest), part.numbers[:, :, column]
        width = _wide(part.nodes.widths[part.kept], column, noise)
        alone = side_log(part.nodes.mean[part.kept, :, column], width, value, side)
        share = by_cell(_weights(rest), part.nodes)
        middle = np.sum(share * numbers, axis=1)
        left = _wide(part.spreads, column, noise)[:, 0]
        variance = left**2 + np.sum(share * (numbers - middle[:, None]) ** 2, axis=1)
        found[_NAMES[column]] = Said(
            alone=_mean(alone), after=after, tail=np.exp(after), middle=middle, spread=np.sqrt(variance)
        )
    return found


def _states(evidence: Evidence, sums: _Sums) -> Mapping[str, Said]:
    part, found = sums.part, dict[str, Said]()
    for reading in sorted(evidence.states):
        if reading not in part.nodes.chances:
            continue
        chances, fits = part.nodes.chances[reading][part.kept], evidence.states[reading]
        own = fit_log(chances, fits)
        draws = part.looks - own
        cells = log_sum(draws, axis=2)
        rest = sums.with_cells(cells + part.outcomes)
        shares = by_cell(_weights(rest), part.nodes)[:, :, None] * np.exp(draws - cells[:, :, None])
        expected = np.sum(shares[:, :, :, None] * chances, axis=(1, 2))
        seen = expected @ np.array(list(fits.values()))
        found[reading] = Said(
            alone=np.log(np.mean(np.exp(own), axis=(1, 2))),
            after=sums.after(rest),
            tail=np.sum(np.where(expected <= seen[:, None] + _SAME, expected, 0.0), axis=1),
            middle=np.zeros(len(own)),
            spread=np.zeros(len(own)),
        )
    return found


def _trials(bank: Bank, evidence: Evidence, sums: _Sums) -> Mapping[str, Said]:
    part, found = sums.part, dict[str, Said]()
    for key, well in tried(bank, evidence):
        cured = part.nodes.cured[key][part.kept]
        own = np.log(cured if well else 1.0 - cured)
        after, nothing = sums.after(sums.with_cells(sums.cells - own)), np.zeros(len(own))
        found[key] = Said(alone=_mean(own), after=after, tail=np.exp(after), middle=nothing, spread=nothing)
    return found


def _wide(spreads: Array, column: int, noise: float) -> Array:
    """Spread of one number with the reading's own, (h, 1)."""
    return np.asarray(np.hypot(spreads[:, column], noise))[:, None]


def _weights(logs: Array) -> Array:
    """Shares of the fine steps, (h, f)."""
    return np.exp(logs - log_sum(logs, axis=1)[:, None])


def _mean(logs: Array) -> Array:
    """Log of the mean of exponentials along the second axis."""
    return np.asarray(log_sum(logs, axis=1) - np.log(logs.shape[1]))


def _shares(logs: Array) -> Array:
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum())
