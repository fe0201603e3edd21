"""What each suspicion predicts: the model run once at fixed nodes, for every fault and pair of faults.

A node is a set of faults at one cell of severity. At each the model gives the mean of every number and, over
a few fixed draws of the parameters, the chances of every state; how numbers spread comes from a secant
over one spread of each parameter at the middle severity. Nothing is drawn at random: the draws are a fixed
table, so that the same case gives the same figures everywhere.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lightoff.physics.uncertain import Array
from lightoff.plant.baseline import Baseline, unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import Prediction, predict
from lightoff.plant.parameters import COLUMN, PARAMETERS, SPREADS
from lightoff.plant.quantities import QUANTITIES, compared
from lightoff.terms.shelf import Catalogue, Fault, Sheet, Trial

CELLS, PAIR_CELLS = 8, 2
DRAWS, PAIR_DRAWS = 8, 2
NONE_SHARE, PAIRS_SHARE, UNKNOWN_SHARE = 0.15, 0.15, 0.03
"""Prior chance that nothing is wrong, that two things are, and that the catalogue lacks it. Judgement."""
UNKNOWN_WIDTH = 6.0
"""How much wider than a sound heater's the spread of a fault nobody wrote down is taken. Judgement."""
UNTOUCHED = 0.5
"""Chance that nobody had touched it of late. Judgement, no source."""
LAST_WORK = "last_work"
LEAK = 0.03
"""Chance that a look shows something without a fault that causes it. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nodes:
    """What a list of fault sets predicts. h sets, c cells, d draws, q numbers, p parameters.

    `mean` (h, c, q) on the compared scale; `slopes` (h, q, p) per spread; `chances` (h, c, d, states) by
    reading, (h, c, 1, states) where no draw matters; gates `lit`, `runs`, `asked` (h, c, d); `well` (h,)
    that it would run well if nothing were done, `cured` (h,) by trial that it would with the trial's resets.
    """

    sets: tuple[tuple[str, ...], ...]
    log_prior: Array
    mean: Array
    slopes: Array
    chances: Mapping[str, Array]
    lit: Array
    runs: Array
    asked: Array
    cured: Mapping[str, Array]


@dataclass(frozen=True)
class Bank:
    """All suspicions of one heater here and today. Singles are built at once, pairs when first asked for."""

    sheet: Sheet
    conditions: Conditions
    faults: Mapping[str, Fault]
    trials: Mapping[str, Trial]
    catalogue: Catalogue
    baseline: Baseline

    @cached_property
    def keys(self) -> tuple[str, ...]:
        """Faults in a fixed order."""
        return tuple(sorted(self.faults))

    @cached_property
    def weights(self) -> Mapping[str, float]:
        """Prior share of each fault among single faults."""
        total = sum(self.faults[key].weight for key in self.keys)
        return {key: self.faults[key].weight / total for key in self.keys}

    @cached_property
    def singles(self) -> Nodes:
        """Nothing wrong, then each fault by itself."""
        sets: list[tuple[str, ...]] = [(), *((key,) for key in self.keys)]
        share = 1.0 - NONE_SHARE - PAIRS_SHARE - UNKNOWN_SHARE
        prior = [NONE_SHARE, *(share * self.weights[key] for key in self.keys)]
        cells = [[self._row(each, [cell])] for each in sets for cell in _cells(CELLS)]
        middle = np.stack([self._row(each, [0.5]) for each in sets])
        return self._nodes(
            sets, np.log(prior), np.stack([row for each in cells for row in each]), CELLS, DRAWS,
            slopes=self._slopes(middle),
        )  # fmt: skip

    @cached_property
    def pairs(self) -> Nodes:
        """Each pair of faults; how numbers spread is added up from the two singles."""
        sets = [(one, other) for at, one in enumerate(self.keys) for other in self.keys[at + 1 :]]
        weights = np.array([self.weights[one] * self.weights[other] for one, other in sets])
        rows = [
            self._row(each, [first, second])
            for each in sets
            for first in _cells(PAIR_CELLS)
            for second in _cells(PAIR_CELLS)
        ]
        place = {key: at + 1 for at, key in enumerate(self.keys)}
        alone = self.singles.slopes
        slopes = np.stack([alone[place[one]] + alone[place[other]] - alone[0] for one, other in sets])
        prior = np.log(PAIRS_SHARE * weights / weights.sum())
        return self._nodes(sets, prior, np.stack(rows), PAIR_CELLS**2, PAIR_DRAWS, slopes=slopes)

    def _row(self, faults: Sequence[str], cells: Sequence[float]) -> Array:
        """Shifts of a set, each fault at its cell (0 to 1) of its own range of severity."""
        row = self.baseline.mean * SPREADS
        for key, cell in zip(faults, cells, strict=False):
            low, high = self.faults[key].severity
            for parameter, shift in self.faults[key].shifts.items():
                row[COLUMN[parameter]] += (low + cell * (high - low)) * shift
        return row

    def _slopes(self, rows: Array) -> Array:
        """Secant over one spread up and down of each parameter, (h, q, p)."""
        width = np.sqrt(np.diag(self.baseline.covariance)) * SPREADS
        count = len(PARAMETERS)
        moves = np.concatenate([np.diag(width), -np.diag(width)])
        every = (rows[:, None, :] + moves[None, :, :]).reshape(-1, count)
        numeric = compared(self._predict(every).numeric).reshape(len(rows), 2, count, -1)
        slopes = 0.5 * (numeric[:, 0] - numeric[:, 1])
        # Per prior spread, so that the baseline's covariance can be laid over it.
        return np.moveaxis(slopes / (width / SPREADS)[None, :, None], 1, 2)

    def _nodes(
        self,
        sets: Sequence[tuple[str, ...]],
        log_prior: Array,
        rows: Array,
        cells: int,
        draws: int,
        *,
        slopes: Array,
    ) -> Nodes:
        count, (h, q) = len(PARAMETERS), (len(sets), len(QUANTITIES))
        mean = compared(self._predict(rows).numeric).reshape(h, cells, q)
        table = _draws(draws) @ np.linalg.cholesky(self.baseline.covariance).T * SPREADS
        seen = self._predict((rows[:, None, :] + table[None, :, :]).reshape(-1, count))
        shape = (h, cells, draws)
        chances = {
            key: each.reshape(*shape, -1)
            for key, each in seen.chances.items()
            if key in self.catalogue.entries
        }
        for reading in self._shown - set(chances):
            chances[reading] = self._looks(reading, sets, cells)
        chances[LAST_WORK] = self._last_work(sets, cells)
        running = (seen.running / np.maximum(seen.lit, 1e-12)).reshape(shape)
        return Nodes(
            sets=tuple(sets),
            log_prior=log_prior,
            mean=mean,
            slopes=slopes,
            chances=chances,
            lit=seen.lit.reshape(shape),
            runs=running,
            asked=seen.asked.reshape(shape),
            cured={key: self._cured(trial, rows, (h, cells)) for key, trial in self.trials.items()},
        )

    @cached_property
    def _shown(self) -> frozenset[str]:
        return frozenset(reading for fault in self.faults.values() for reading in fault.shows)

    def _looks(self, reading: str, sets: Sequence[tuple[str, ...]], cells: int) -> Array:
        """Chances of a look that only the catalogue of faults predicts: a noisy "or", (h, c, 1, states)."""
        states = self.catalogue.entries[reading].states
        per_fault = {
            key: np.array([fault.shows[reading].get(state, 0.0) for state in states[1:]])
            for key, fault in self.faults.items()
            if reading in fault.shows
        }
        leak = np.full(len(states) - 1, LEAK / (len(states) - 1))
        grid = _cells(cells) if cells == CELLS else _cells(PAIR_CELLS)
        out = np.empty((len(sets), cells, 1, len(states)))
        sound = np.concatenate([[1.0 - leak.sum()], leak])
        out[:] = sound
        for at, each in enumerate(sets):
            told = [(place, per_fault[key], key) for place, key in enumerate(each) if key in per_fault]
            if not told:
                continue
            for cell in range(cells):
                silent = 1.0 - leak
                for place, chances, key in told:
                    step = cell if len(each) < 2 else (cell // PAIR_CELLS, cell % PAIR_CELLS)[place]
                    low, high = self.faults[key].severity
                    severity = low + grid[step] * (high - low)
                    silent = silent * (1.0 - chances * min(1.0, 0.5 + 0.5 * severity))
                shown = 1.0 - silent
                normal = float(np.prod(silent))
                shown = shown / max(shown.sum(), 1e-12) * (1.0 - normal)
                out[at, cell, 0] = [normal, *shown]
        return out

    def _last_work(self, sets: Sequence[tuple[str, ...]], cells: int) -> Array:
        """Chance of what was touched last, given what is wrong: work brings its own mistakes."""
        states = self.catalogue.entries[LAST_WORK].states
        out = np.empty((len(sets), cells, 1, len(states)))
        for at, each in enumerate(sets):
            usual = np.array([UNTOUCHED, *([(1.0 - UNTOUCHED) / (len(states) - 1)] * (len(states) - 1))])
            for key in each:
                fault = self.faults[key]
                after = [state.replace(" ", "_") in fault.after for state in states]
                usual = usual * np.where(after, fault.after_factor, 1.0)
            out[at] = usual / usual.sum()
        return out

    def _cured(self, trial: Trial, rows: Array, shape: tuple[int, int]) -> Array:
        """Chance that the heater runs well with the trial's parameters healthy, (h, c)."""
        reset = rows.copy()
        reset[:, [COLUMN[key] for key in trial.resets]] = 0.0
        return _runs_well(self._predict(reset)).reshape(shape)

    def _predict(self, rows: Array) -> Prediction:
        return predict(self.sheet, self.conditions, rows)


def bank(
    *,
    sheet: Sheet,
    conditions: Conditions,
    faults: Mapping[str, Fault],
    trials: Mapping[str, Trial],
    catalogue: Catalogue,
    baseline: Baseline | None = None,
) -> Bank:
    """The bank of one heater here and today."""
    return Bank(sheet, conditions, faults, trials, catalogue, baseline or unknown_unit())


def _runs_well(seen: Prediction) -> Array:
    """Lights, keeps burning, does not smoke and makes its heat: what "runs well" means to a technician."""
    clean = 1.0 / (1.0 + np.exp(-np.clip((seen.smoke_margin + 0.02) / 0.02, -50, 50)))
    return np.clip(seen.running * clean, 0.02, 0.97)


def _cells(count: int) -> Array:
    """Midpoints of equal cells from 0 to 1."""
    return (np.arange(count) + 0.5) / count


def _draws(count: int) -> Array:
    """A fixed table of standard normal rows in opposite pairs, (count, parameters)."""
    half = np.random.default_rng(20_040_229).normal(size=(count // 2, len(PARAMETERS)))
    return np.concatenate([half, -half])
