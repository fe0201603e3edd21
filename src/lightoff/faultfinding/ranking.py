"""Which step next: the test, trial or repair with the least expected minutes until it runs well.

Each possible step is judged by what its outcomes would leave to do. The best few are judged again with one
more step behind them, because repairs and tests depend on each other and the step that looks best alone is
not always best (a case where it loses by 15 % stands in the tests). Basis: heckerman_1995, langseth_2003;
entropy only breaks ties (dekleer_1987).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.cost import (
    CONFIRM_MINUTES,
    HAND_OVER_MINUTES,
    OPENING_MINUTES,
    costs_of,
    expected_cost,
    repair_minutes,
)
from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.faultfinding.posterior import UNKNOWN_KEY, Posterior, Weighed, read_spread
from lightoff.physics.normal import cumulative
from lightoff.physics.uncertain import Array
from lightoff.plant.quantities import COLUMN, QUANTITIES, uncompared

LOOKED_TWICE = 8
"""Steps that are judged again with one more behind them."""
FOLLOWERS = 10
_QUANTILES = (1 / 12, 3 / 12, 5 / 12, 7 / 12, 9 / 12, 11 / 12)
_TIE_MINUTES = 0.25
NEGLIGIBLE = 2e-3
"""Sets this far below the likeliest change no step."""
DERIVED: Mapping[str, tuple[str, ...]] = {
    "fuel_flow": ("fuel_volume", "fuel_time"),
    "warm_up_rate": ("coolant_temperature_start", "coolant_temperature_end", "warm_up_time"),
}
"""Numbers that are worked out of several readings, which are taken together."""
FIRING_LOOKS = frozenset(
    {"light_off", "stop_step", "flame_look", "flame_lamp", "igniter_lamp", "smoke_colour", "exhaust_smell",
     "burner_sound", "compressor_sound", "zone_heat", "hot_water", "air_bubbles"}
)  # fmt: skip
"""States that only a start shows."""


class Kind(StrEnum):
    """What a step is."""

    READING = "reading"
    TRIAL = "trial"
    REPAIR = "repair"
    SHOW_SOUND = "show that nothing is wrong"
    HAND_OVER = "hand over"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepOutcome:
    """One way a step may end: a state, or a number between `low` and `high` (SI, None open); its chance, and
    the fault that would then lead with its chance ("" for nothing wrong)."""

    state: str = ""
    low: float | None = None
    high: float | None = None
    chance: float
    leads: str
    leads_chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step with its price. `expected_minutes` until it runs well if this comes next; `saves_minutes`
    against the best plan of repairs without it."""

    kind: Kind
    key: str
    minutes: float
    opens: str
    cautions: tuple[str, ...]
    expected_minutes: float
    saves_minutes: float
    outcomes: tuple[StepOutcome, ...]


@dataclass(frozen=True, slots=True)
class _Option:
    """A step with the chance of each outcome under each set, (sets, outcomes)."""

    kind: Kind
    key: str
    cost: float
    likelihood: Array
    edges: tuple[float, ...] = ()
    states: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Board:
    """The posterior laid out for counting: chance and membership of each set."""

    chances: Array  # (sets,)
    members: Array  # (sets, faults + 1): share of the set's mass that a repair would have to find
    costs: Array
    keys: tuple[str, ...]
    hand_over: float

    def likely(self) -> tuple[_Board, NDArray[np.intp]]:
        """The same with the unlikely sets and actions left out, for looking ahead; and which sets stayed."""
        kept = np.flatnonzero(self.chances > NEGLIGIBLE * self.chances.max())
        actions = np.flatnonzero((self.members[kept] > 0.0).any(axis=0))
        chances = self.chances[kept] / self.chances[kept].sum()
        keys = tuple((*self.keys, "")[at] for at in actions)
        return _Board(
            chances, self.members[np.ix_(kept, actions)], self.costs[actions], keys, self.hand_over
        ), kept

    def cost(self, weights: Array) -> tuple[Array, Array]:
        """Expected minutes of mending for each column of joint weights (sets, n), per unit of its mass."""
        mass = weights.sum(axis=0)
        chances = (weights / np.maximum(mass, 1e-300)).T @ self.members
        return expected_cost(chances, self.costs, self.hand_over)


def ranked(
    bank: Bank,
    evidence: Evidence,
    found: Posterior,
    *,
    classes: frozenset[str],
    hand_over: float | None = None,
) -> tuple[Step, ...]:
    """All steps, best first. `classes` are the instrument classes at hand ("eyes" and "stopwatch" always).

    A wet or unseen chamber after failed starts forbids every step that fires; what opens nothing comes
    before what opens something at the same price.
    """
    opened = _opened(bank, evidence)
    board = _board(bank, evidence, found, opened, HAND_OVER_MINUTES if hand_over is None else hand_over)
    now, first = board.cost(board.chances[:, None])
    every = _options(bank, evidence, found, classes | {"eyes", "stopwatch"}, opened)
    small, kept = board.likely()
    options = [replace(option, likelihood=option.likelihood[kept]) for option in every]
    once = np.array([_after(small, option, small.chances) for option in options])
    order = np.argsort(once, kind="stable")
    # What follows is drawn from the best steps and from the cheapest proofs of the likeliest faults.
    followers = [options[at] for at in order[:FOLLOWERS]]
    twice = {int(at): _after(small, options[at], small.chances, followers) for at in order[:LOOKED_TWICE]}
    steps = [
        _step(bank, board, option, twice.get(at, float(once[at])), float(now[0]))
        for at, option in enumerate(every)
    ]
    steps.append(_mending(bank, board, int(first[0]), float(now[0]), opened))
    entropy = {option.key: _entropy_left(small, option) for option in options}
    return tuple(
        sorted(
            steps,
            key=lambda each: (
                round(each.expected_minutes / _TIE_MINUTES),
                each.opens != "",
                entropy.get(each.key, np.inf),
                each.key,
            ),
        )
    )


def _board(
    bank: Bank, evidence: Evidence, found: Posterior, opened: frozenset[str], hand_over: float
) -> _Board:
    keys = bank.keys
    place = {key: at for at, key in enumerate(keys)}
    done = _done(evidence)
    members = np.zeros((len(found.sets), len(keys) + 1))
    for at, each in enumerate(found.sets):
        if not each:
            members[at, -1] = 1.0
        for key in each:
            if key != UNKNOWN_KEY and key not in done:
                members[at, place[key]] = 1.0 / len(each)
    return _Board(found.chances, members, costs_of(bank.faults, keys, opened), keys, hand_over)


def _done(evidence: Evidence) -> frozenset[str]:
    """Repairs that were done: doing one again is no step."""
    return frozenset(key for key, outcome in evidence.repairs.items() if outcome is not Outcome.NOT_DONE)


def _after(board: _Board, option: _Option, weights: Array, followers: Sequence[_Option] = ()) -> float:
    """Expected minutes if this comes next, then the best mending, or one of `followers` first."""
    joint = weights[:, None] * option.likelihood
    mass = joint.sum(axis=0)
    minutes, _ = board.cost(joint)
    for follower in followers:
        if follower.key == option.key:
            continue
        shape = (len(weights), -1)
        both = (joint[:, :, None] * follower.likelihood[:, None, :]).reshape(shape)
        then, _ = board.cost(both)
        split = (both.sum(axis=0) * then).reshape(len(mass), -1).sum(axis=1) / np.maximum(mass, 1e-300)
        minutes = np.minimum(minutes, follower.cost + split)
    return float(option.cost + np.sum(mass * minutes))


def _options(
    bank: Bank, evidence: Evidence, found: Posterior, classes: frozenset[str], opened: frozenset[str]
) -> list[_Option]:
    known, barred = evidence.known | evidence.not_possible, no_firing(evidence)
    options = []
    for key, quantity in QUANTITIES.items():
        parts = DERIVED.get(key, (key,))
        if known & {key, *parts} or not all(_at_hand(bank, part, classes) for part in parts):
            continue
        if barred and (quantity.needs_flame or quantity.needs_trial):
            continue
        cost = sum(_reading_cost(bank, part, opened) for part in parts)
        likelihood, edges = _number_outcomes(bank, evidence, found, key)
        options.append(_Option(Kind.READING, key, cost, likelihood, edges))
    for reading in found.weighed[0].nodes.chances:
        if reading in known or not _at_hand(bank, reading, classes) or (barred and reading in FIRING_LOOKS):
            continue
        states = bank.catalogue.entries[reading].states
        likelihood = _state_outcomes(found, reading)
        options.append(
            _Option(Kind.READING, reading, _reading_cost(bank, reading, opened), likelihood, (), states)
        )
    for key, trial in bank.trials.items():
        if key in known or barred:
            continue
        opening = 0.0 if trial.opens in opened else OPENING_MINUTES[trial.opens]
        cured = _per_set(found, [np.sum(part.cells * part.nodes.cured[key][part.kept], axis=1)
                                 for part in found.weighed])  # fmt: skip
        likelihood = np.stack([cured, 1.0 - cured], axis=1)
        cost = trial.minutes + opening + CONFIRM_MINUTES
        options.append(_Option(Kind.TRIAL, key, cost, likelihood, (), trial.states))
    return options


def no_firing(evidence: Evidence) -> bool:
    """True where a start must not be tried: a wet chamber, or failed starts and nobody looked."""
    looked = evidence.states.get("chamber_look")
    if looked is not None:
        return looked.get("wet", 0.0) > 0.0
    lit = evidence.states.get("light_off", {})
    return evidence.starts_without_flame >= 2 or lit.get("did not light", 0.0) >= 0.5


def _at_hand(bank: Bank, reading: str, classes: frozenset[str]) -> bool:
    entry = bank.catalogue.entries.get(reading)
    return entry is not None and (not entry.classes or bool(classes & set(entry.classes)))


def _reading_cost(bank: Bank, reading: str, opened: frozenset[str]) -> float:
    entry = bank.catalogue.entries[reading]
    return entry.minutes + (0.0 if entry.opens in opened else OPENING_MINUTES[entry.opens])


def _opened(bank: Bank, evidence: Evidence) -> frozenset[str]:
    """Paths that this visit has opened already; their closing check is owed anyhow."""
    entries = {bank.catalogue.entries[key].opens for key in evidence.known if key in bank.catalogue.entries}
    return frozenset(
        entries | {bank.trials[key].opens for key in evidence.trials if key in bank.trials} | {""}
    )


def _per_set(found: Posterior, parts: Sequence[Array]) -> Array:
    """Values of the weighed sets, and their mean for the unknown, (sets,)."""
    known = np.concatenate(parts)
    weights = found.chances[:-1] / max(float(found.chances[:-1].sum()), 1e-300)
    return np.append(known, float(weights @ known))


def _state_outcomes(found: Posterior, reading: str) -> Array:
    parts = []
    for part in found.weighed:
        chances = part.nodes.chances[reading][part.kept]
        shares = part.cells[:, :, None] * (
            part.draws if chances.shape[2] > 1 else np.ones_like(part.draws[:, :, :1])
        )
        parts.append(np.einsum("hcd,hcds->hs", shares, chances))
    known = np.concatenate(parts)
    return np.vstack([known, _unknown_row(found, known)])


def _unknown_row(found: Posterior, known: Array) -> Array:
    weights = found.chances[:-1] / max(float(found.chances[:-1].sum()), 1e-300)
    return weights @ known


def _number_outcomes(
    bank: Bank, evidence: Evidence, found: Posterior, key: str
) -> tuple[Array, tuple[float, ...]]:
    """Chance of each band of a number under each set, and of not being there to read, (sets, bands + 1)."""
    at, noise = COLUMN[key], read_spread(bank, key, evidence)
    noise = float(np.hypot(noise, _class_spread(bank, key)))
    means = np.concatenate([
        np.repeat(part.numbers[:, :, at].reshape(-1), 1) for part in found.weighed
    ])  # fmt: skip
    chances, used = [], 0
    for part in found.weighed:
        count = len(part.sets)
        chances.append((found.chances[used : used + count, None] * part.cells).reshape(-1))
        used += count
    weight = np.concatenate(chances)
    order = np.argsort(means)
    cumulated = np.cumsum(weight[order])
    marks = np.interp(np.array(_QUANTILES) * cumulated[-1], cumulated, means[order])
    edges = np.unique(0.5 * (marks[1:] + marks[:-1]))
    parts = []
    for part in found.weighed:
        spread = np.hypot(part.spreads[:, at], noise)
        below = cumulative(
            (edges[None, None, :] - part.numbers[:, :, at, None]) / np.maximum(spread, 1e-12)[:, None, None]
        )
        below = np.concatenate([np.zeros_like(below[..., :1]), below, np.ones_like(below[..., :1])], axis=2)
        bands = np.diff(below, axis=2)
        there = _there(part, key)
        bands = np.concatenate([bands * there[:, :, None], (1.0 - there)[:, :, None]], axis=2)
        parts.append(np.einsum("hc,hcb->hb", part.cells, bands))
    known = np.concatenate(parts)
    return np.vstack([known, _unknown_row(found, known)]), tuple(float(each) for each in edges)


def _there(part: Weighed, key: str) -> Array:
    """Chance that the number can be read at all, (h, c)."""
    quantity, nodes, kept = QUANTITIES[key], part.nodes, part.kept
    lit, runs = nodes.lit[kept], nodes.runs[kept]
    if key == "run_time_before_stop":
        gate = lit * (1.0 - runs)
    elif key == "time_to_light":
        gate = lit
    elif quantity.needs_flame:
        gate = lit * (0.3 + 0.7 * runs)
    elif quantity.needs_trial:
        gate = nodes.asked[kept]
    else:
        gate = np.ones_like(lit)
    return np.asarray(np.sum(part.draws * gate, axis=2))


def _class_spread(bank: Bank, key: str) -> float:
    """Standard uncertainty of the class that reads it, on the scale compared; a middle reading is assumed."""
    entry = bank.catalogue.entries.get(key)
    if entry is None:
        return 0.0
    for name in entry.classes:
        accuracy = (
            bank.catalogue.classes[name].accuracies.get(key) if name in bank.catalogue.classes else None
        )
        if accuracy is not None and QUANTITIES[key].floor > 0.0:
            return 0.5 * float(accuracy.relative)
    return 0.0


def _step(bank: Bank, board: _Board, option: _Option, expected: float, now: float) -> Step:
    entry = bank.catalogue.entries.get(DERIVED.get(option.key, (option.key,))[0])
    trial = bank.trials.get(option.key)
    opens = trial.opens if trial else entry.opens if entry else ""
    cautions = trial.cautions if trial else (entry.caution,) if entry and entry.caution else ()
    return Step(
        kind=option.kind,
        key=option.key,
        minutes=trial.minutes if trial else option.cost,
        opens=opens,
        cautions=tuple(cautions),
        expected_minutes=expected,
        saves_minutes=now - expected,
        outcomes=_outcomes(board, option),
    )


def _outcomes(board: _Board, option: _Option) -> tuple[StepOutcome, ...]:
    """What each outcome would mean; neighbouring bands that lead to the same fault are told as one."""
    joint = board.chances[:, None] * option.likelihood
    mass = joint.sum(axis=0)
    faults = (joint / np.maximum(mass, 1e-300)).T @ np.where(board.members > 0.0, 1.0, 0.0)
    leads = np.argmax(faults, axis=1)
    told: list[StepOutcome] = []
    edges: tuple[float | None, ...] = (None, *option.edges, None)
    for at, chance in enumerate(mass):
        lead = board.keys[leads[at]] if leads[at] < len(board.keys) else ""
        lead_chance = float(faults[at, leads[at]])
        if option.states:
            told.append(
                StepOutcome(
                    state=option.states[at], chance=float(chance), leads=lead, leads_chance=lead_chance
                )
            )
            continue
        if at == len(mass) - 1:
            continue  # not there to read: no outcome to wait for
        column = COLUMN[option.key]
        low, high = (
            None if each is None else float(uncompared(np.asarray(each), column))
            for each in (edges[at], edges[at + 1])
        )
        if told and told[-1].leads == lead:
            last = told.pop()
            both = last.chance + float(chance)
            mean = (last.leads_chance * last.chance + lead_chance * float(chance)) / max(both, 1e-300)
            told.append(StepOutcome(low=last.low, high=high, chance=both, leads=lead, leads_chance=mean))
        else:
            told.append(
                StepOutcome(low=low, high=high, chance=float(chance), leads=lead, leads_chance=lead_chance)
            )
    return tuple(told)


def _entropy_left(board: _Board, option: _Option) -> float:
    joint = board.chances[:, None] * option.likelihood
    mass = joint.sum(axis=0)
    faults = joint.T @ board.members
    shares = faults / np.maximum(mass, 1e-300)[:, None]
    return float(-np.sum(faults * np.log(np.maximum(shares, 1e-12))))


def _mending(bank: Bank, board: _Board, first: int, now: float, opened: frozenset[str]) -> Step:
    """The best plan of repairs as a step: its first repair, showing a sound heater, or handing over."""
    kind, key, minutes, opens = Kind.HAND_OVER, "", 0.0, ""
    cautions: tuple[str, ...] = ()
    if first == len(board.keys):
        kind, minutes = Kind.SHOW_SOUND, float(board.costs[-1])
    elif first >= 0:
        fault = bank.faults[board.keys[first]]
        kind, key, minutes = Kind.REPAIR, fault.key, repair_minutes(fault, opened)
        opens, cautions = fault.opens, fault.cautions
    return Step(
        kind=kind,
        key=key,
        minutes=minutes,
        opens=opens,
        cautions=tuple(cautions),
        expected_minutes=now,
        saves_minutes=0.0,
        outcomes=(),
    )
