"""What each suspicion predicts: the model run once at fixed nodes, for every fault and pair of faults.

A node is a set of faults at one cell of severity. At each the model gives the mean of every number and, over
a few fixed draws of the parameters, the chances of every state; how numbers spread comes from a secant
over one spread of each parameter at the middle severity. Nothing is drawn at random: the draws are a fixed
table, so that the same case gives the same figures everywhere.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from lightoff.faultfinding.ages import Age, with_work
from lightoff.faultfinding.looks import LAST_WORK, last_work, looks, touched
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.plant.baseline import Baseline, unknown_unit
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import Prediction, predict
from lightoff.plant.parameters import COLUMN, PARAMETERS, normal_rows, spreads
from lightoff.plant.quantities import COLUMN as QUANTITY
from lightoff.plant.quantities import DOUBT, DOUBT_OF_KNOWN, QUANTITIES, compared
from lightoff.terms.shelf import Catalogue, Fault, Sheet, Trial

CELLS, PAIR_CELLS = 8, 3
DRAWS = 4
LEAK = 0.03
"""Chance that a look shows something without a fault that causes it. Judgement, no source."""
Places = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Beliefs:
    """What is held to be so before anything is read. All judgement, no source.

    `nothing`, `two`, `unknown`: the chance that nothing is wrong, that two things are, and that the catalogue
    lacks it. `doubt`: how much further from the model a reading lies than it repeats, laws being only so
    good, and `doubt_of_known` where good visits read it of this unit. `tail`: degrees of freedom, how well
    the spreads are known, as one common factor of all of them; one heater and one meter are worse than
    another, and no reading gone wrong may decide alone.
    """

    nothing: float = 0.15
    two: float = 0.15
    unknown: float = 0.03
    doubt: float = DOUBT
    doubt_of_known: float = DOUBT_OF_KNOWN
    effect: float = 0.25
    tail: float = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Nodes:
    """What a list of fault sets predicts. h sets, c cells, d draws, q numbers.

    `parts` (h, 2) the places of a set's faults among the single ones, nought for none; `mean` (h, c, q) on
    the compared scale; `widths` (h, q) the standard deviation of each number in a cell; `chances`
    (h, c, d, states) by reading, (h, c, 1, states) where no draw matters; gates `lit`, `runs`, `asked`
    (h, c, d); `cured` (h, c) by trial: the chance that it would run well with the trial's resets.
    """

    sets: tuple[tuple[str, ...], ...]
    parts: Places
    log_prior: Array
    mean: Array
    widths: Array
    chances: Mapping[str, Array]
    lit: Array
    runs: Array
    asked: Array
    cured: Mapping[str, Array]

    @property
    def of_pairs(self) -> bool:
        """Whether these are pairs of faults."""
        return bool(np.any(self.parts[:, 1]))


@dataclass(frozen=True)
class Bank:
    """All suspicions of one heater here and today. Singles are built at once, pairs when first asked for."""

    sheet: Sheet
    conditions: Conditions
    faults: Mapping[str, Fault]
    trials: Mapping[str, Trial]
    catalogue: Catalogue
    baseline: Baseline
    leaks: Mapping[str, float]
    beliefs: Beliefs
    ages: Mapping[str, Age] = field(default_factory=dict)

    @cached_property
    def keys(self) -> tuple[str, ...]:
        """Faults in a fixed order; the place of each is one more than here, nought is none."""
        return tuple(sorted(self.faults))

    @cached_property
    def weights(self) -> Mapping[str, float]:
        """Prior share of each fault among single faults: how often it is met, moved by its part's age."""
        moved = {key: self._aged[key].weight for key in self.keys}
        total = sum(moved.values())
        return {key: weight / total for key, weight in moved.items()}

    @cached_property
    def _aged(self) -> Mapping[str, Fault]:
        """The faults, each as often met as the age of its part makes it."""
        states, aged = self.catalogue.entries[LAST_WORK].states, dict(self.faults)
        for key in self.ages.keys() & aged.keys():
            fault = aged[key]
            ratio, factor = with_work(self.ages[key], fault, touched(fault, states))
            aged[key] = replace(fault, weight=fault.weight * ratio, after_factor=factor)
        return aged

    @cached_property
    def singles(self) -> Nodes:
        """Nothing wrong, then each fault by itself."""
        count = len(self.keys) + 1
        parts = np.stack([np.arange(count), np.zeros(count, dtype=np.intp)], axis=1)
        held = self.beliefs
        share = 1.0 - held.nothing - held.two - held.unknown
        prior = [held.nothing, *(share * self.weights[key] for key in self.keys)]
        severities = np.repeat(midpoints(CELLS)[:, None], 2, axis=1)
        return self._nodes(parts, np.log(prior), severities, _draws(DRAWS) @ self.root.T)

    @cached_property
    def pairs(self) -> Nodes:
        """Each pair of faults, with its parameters at the middle; how numbers spread is added up."""
        parts = np.stack(np.triu_indices(len(self.keys), 1), axis=1) + 1
        weight = np.array([0.0, *(self.weights[key] for key in self.keys)])
        weights = weight[parts[:, 0]] * weight[parts[:, 1]]
        cells = midpoints(PAIR_CELLS)
        severities = np.array([(first, second) for first in cells for second in cells])
        prior = np.log(self.beliefs.two * weights / weights.sum())
        return self._nodes(parts, prior, severities, np.zeros((1, len(PARAMETERS))))

    @cached_property
    def spreads(self) -> Array:
        """One prior standard deviation of each parameter of this heater type."""
        return spreads(self.sheet)

    @cached_property
    def root(self) -> Array:
        """The baseline's spread: parameters in prior spreads are its mean plus `root` times standard ones."""
        return np.asarray(np.linalg.cholesky(self.baseline.covariance), dtype=np.float64)

    @cached_property
    def slopes(self) -> Array:
        """Secants at the middle severity of nothing and each single fault, (h, q, p), per standard one."""
        places = np.arange(len(self.keys) + 1)
        rows = self.shifts(np.stack([places, 0 * places], axis=1), np.full((len(places), 2), 0.5))
        width = np.sqrt(np.diag(self.baseline.covariance))
        count = len(PARAMETERS)
        moves = np.concatenate([np.diag(width * self.spreads), -np.diag(width * self.spreads)])
        numeric = compared(self.predict(_spread(rows, moves), with_signs=False).numeric).reshape(
            len(rows), 2, count, -1
        )
        return np.swapaxes(0.5 * (numeric[:, 0] - numeric[:, 1]) / width[:, None], 1, 2) @ self.root

    def slopes_of(self, parts: Places, columns: Sequence[int] | Places | slice = slice(None)) -> Array:
        """Slopes of sets of faults, of all numbers or these, added up from single ones, (h, q, p)."""
        alone = self.slopes[:, columns]
        slopes = np.asarray(alone[parts[:, 0]])  # a copy
        if np.any(parts[:, 1]):
            slopes += alone[parts[:, 1]]
            slopes -= alone[0]
        return slopes

    @cached_property
    def _moves(self) -> tuple[Array, Array]:
        """Shifts of each place at the low end of its severity, and from there to the high end."""
        start, reach = np.zeros((2, len(self.keys) + 1, len(PARAMETERS)))
        for place, key in enumerate(self.keys, start=1):
            low, high = self.faults[key].severity
            low, high = low / (1.0 + self.beliefs.effect), high * (1.0 + self.beliefs.effect)
            for parameter, shift in self.faults[key].shifts.items():
                start[place, COLUMN[parameter]] = low * shift
                reach[place, COLUMN[parameter]] = (high - low) * shift
        return start, reach

    def shifts(self, parts: Places, severities: Array) -> Array:
        """Rows of sets, (n, p); `severities` (n, 2) from nought to one of each fault's own range."""
        start, reach = self._moves
        rows = self.baseline.mean * self.spreads + start[parts[:, 0]] + severities[:, :1] * reach[parts[:, 0]]
        return np.asarray(rows + start[parts[:, 1]] + severities[:, 1:] * reach[parts[:, 1]])

    def places(self, sets: Sequence[tuple[str, ...]]) -> Places:
        """The places of the faults of each set, (h, 2)."""
        at = {key: place for place, key in enumerate(self.keys, start=1)}
        return np.array([[*(at[key] for key in each), 0, 0][:2] for each in sets], dtype=np.intp).reshape(
            -1, 2
        )

    def doubt(self, key: str) -> float:
        """How much further from the model a number lies than it repeats; less with each good visit's."""
        held, times = self.beliefs, float(self.baseline.times[QUANTITY[key]])
        known = min(held.doubt, held.doubt_of_known)
        return float(np.sqrt(known**2 + (held.doubt**2 - known**2) / (1.0 + times)))

    def leak(self, reading: str) -> float:
        """Chance that a look shows another state than its first though nothing causes it."""
        return self.leaks.get(reading, LEAK)

    def looks(self, reading: str, parts: Places, severities: Array) -> Array:
        """Chances of a look that only the catalogue of faults predicts, (n, states)."""
        shows = {
            place: (self.faults[key], self.faults[key].shows[reading])
            for place, key in enumerate(self.keys, start=1)
            if reading in self.faults[key].shows
        }
        states = self.catalogue.entries[reading].states
        return looks(shows, states=states, leak=self.leak(reading), parts=parts, severities=severities)

    @cached_property
    def _worked(self) -> Array:
        return last_work([self._aged[key] for key in self.keys], self.catalogue.entries[LAST_WORK].states)

    def last_work(self, parts: Places) -> Array:
        """Chance of what was touched last, (n, states)."""
        worked = self._worked
        raised = np.concatenate([np.ones((1, worked.shape[1])), worked[1:]])
        chances = worked[0] * raised[parts[:, 0]] * raised[parts[:, 1]]
        return np.asarray(chances / chances.sum(axis=1, keepdims=True))

    def predict(self, rows: Array, *, with_signs: bool = True) -> Prediction:
        """The model here and today."""
        return predict(self.sheet, self.conditions, rows, with_signs=with_signs)

    def cured(self, trial: Trial, rows: Array) -> Array:
        """Chance that rows run well while a trial's parts are healthy, (n,)."""
        return runs_well(self.predict(self.reset(trial, rows), with_signs=False))

    def reset(self, trial: Trial, rows: Array) -> Array:
        """The rows while a trial runs: what it replaces is healthy."""
        healthy = rows.copy()
        healthy[:, [COLUMN[key] for key in trial.resets]] = 0.0
        return healthy

    @cached_property
    def physical(self) -> tuple[str, ...]:
        """Readings with states that the physics predicts."""
        seen = self.predict(np.zeros((1, len(PARAMETERS)))).chances
        return tuple(sorted(key for key in seen if key in self.catalogue.entries))

    @cached_property
    def shown(self) -> tuple[str, ...]:
        """Readings that faults show and no physics predicts."""
        named = {reading for fault in self.faults.values() for reading in fault.shows}
        return tuple(sorted(named - set(self.physical)))

    def _nodes(self, parts: Places, log_prior: Array, severities: Array, table: Array) -> Nodes:
        h, c, d = len(parts), len(severities), len(table)
        every, steps = np.repeat(parts, c, axis=0), np.tile(severities, (h, 1))
        rows = self.shifts(every, steps)
        middle = self.predict(rows)
        # One row of noughts stands for the middle itself.
        seen = middle if d == 1 else self.predict(_spread(rows, table * self.spreads))
        chances = {key: seen.chances[key].reshape(h, c, d, -1) for key in self.physical}
        for reading in self.shown:
            chances[reading] = self.looks(reading, every, steps).reshape(h, c, 1, -1)
        worked = self.last_work(parts)
        chances[LAST_WORK] = np.broadcast_to(worked[:, None, None, :], (h, c, 1, worked.shape[1]))
        names = ("", *self.keys)
        return Nodes(
            sets=tuple(tuple(names[place] for place in each if place) for each in parts.tolist()),
            parts=parts,
            log_prior=log_prior,
            mean=compared(middle.numeric).reshape(h, c, len(QUANTITIES)),
            widths=self._widths(parts),
            chances=chances,
            lit=seen.lit.reshape(h, c, d),
            runs=(seen.running / np.maximum(seen.lit, 1e-12)).reshape(h, c, d),
            asked=seen.asked.reshape(h, c, d),
            cured={key: self.cured(trial, rows).reshape(h, c) for key, trial in self.trials.items()},
        )

    def _widths(self, parts: Places) -> Array:
        """Standard deviations of the numbers of sets, (h, q), without laying out their slopes."""
        slopes = np.moveaxis(self.slopes, 1, 0)
        products = np.moveaxis(slopes @ np.swapaxes(slopes, 1, 2), 0, 2)
        one, two = parts[:, 0], parts[:, 1]
        both = products[one, one] + products[two, two] + products[0, 0]
        both = both + 2.0 * (products[one, two] - products[one, 0] - products[two, 0])
        return np.sqrt(np.maximum(np.where((two == 0)[:, None], products[one, one], both), 0.0))


def bank(
    *,
    sheet: Sheet,
    conditions: Conditions,
    faults: Mapping[str, Fault],
    trials: Mapping[str, Trial],
    catalogue: Catalogue,
    baseline: Baseline | None = None,
    leaks: Mapping[str, float] | None = None,
    beliefs: Beliefs | None = None,
    ages: Mapping[str, Age] | None = None,
) -> Bank:
    """The bank of one heater here and today. `leaks`: by reading, where a look differs without a cause;
    `ages`: by fault, those of the parts that it is one of."""
    return Bank(
        sheet,
        conditions,
        faults,
        trials,
        catalogue,
        baseline or unknown_unit(),
        leaks or {},
        beliefs or Beliefs(),
        ages or {},
    )


def runs_well(seen: Prediction) -> Array:
    """Lights, keeps burning, does not smoke and makes its heat: what "runs well" means to a technician."""
    clean = 1.0 / (1.0 + np.exp(-np.clip((seen.smoke_margin + 0.02) / 0.02, -50, 50)))
    return np.clip(seen.running * clean, 0.02, 0.97)


def midpoints(count: int) -> Array:
    """Midpoints of equal cells from 0 to 1."""
    return (np.arange(count) + 0.5) / count


def _spread(rows: Array, moves: Array) -> Array:
    return (rows[:, None, :] + moves[None, :, :]).reshape(-1, rows.shape[1])


def _draws(count: int) -> Array:
    """A fixed table of standard normal rows in opposite pairs, (count, parameters)."""
    half = normal_rows(np.random.default_rng(20_040_229), count // 2)
    return np.concatenate([half, -half])
