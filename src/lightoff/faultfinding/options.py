"""What could be done next: each reading, trial and repair with its price and the chance of each outcome.

Only the likely causes are laid out, for what is next to impossible changes no step.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.cost import (
    DERIVED,
    HAND_OVER_MINUTES,
    OPENING_MINUTES,
    SOUND,
    SOUND_MINUTES,
    opened_paths,
    reading_minutes,
    reading_path,
    repair_key,
    repair_minutes,
    swapped_in,
)
from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.faultfinding.planning import NO_PATH, Option, Places, Repairs, mending, repair_option
from lightoff.faultfinding.posterior import UNKNOWN_KEY, Posterior, Weighed, read_spread
from lightoff.physics.normal import cumulative
from lightoff.physics.uncertain import Array
from lightoff.plant.quantities import COLUMN, QUANTITIES

NEGLIGIBLE = 2e-3
"""Causes this far below the likeliest change no step."""
MOST_CAUSES = 48
BANDS = 5
"""How many bands a number's outcomes are told in, about equally likely."""
LEAST_THERE = 0.25
"""A number that can be had more seldom than this is not asked for."""
PATHS = tuple(path for path in OPENING_MINUTES if path)
FIRING_LOOKS = frozenset(
    {"light_off", "stop_step", "flame_look", "flame_lamp", "igniter_lamp", "smoke_colour", "exhaust_smell",
     "burner_sound", "compressor_sound", "zone_heat", "hot_water", "air_bubbles", "pump_click", "fan_sound",
     "high_limit_trip", "sensor_compare", "hot_water_approach", "drip_after_stop", "zone_fan_look",
     "after_run"}
)  # fmt: skip
"""Looks that need a start."""
FLAME_LOOKS = frozenset({"burner_sound"})
"""Looks, not of the physics, that need a flame to be there."""
WARMED_UP = frozenset(
    {"coolant_temperature_supply", "coolant_temperature_return", "tap_temperature", "warm_up_rate",
     "stack_gas_temperature", "pipe_surface_temperature"}
)  # fmt: skip
"""Numbers of a heater heated through: one that dies after minutes never comes to show them. Judgement."""
CHAMBER = "chamber_look"
FIRST = "supply_voltage_rest"
AFTER_FIRST = frozenset(
    {"supply_voltage_igniter", "igniter_voltage_at_lead", "igniter_current", "fan_current",
     "compressor_current", "fuel_pump_current", "ground_drop"}
)  # fmt: skip
"""A current or a drop says nothing before the supply voltage is known. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Laid:
    """The likely causes with their chances, what mends them, and every step that can be taken here.

    `sets` (causes,) as tuples of faults, `names` the fault that stands for each repair, "" for showing that
    nothing is wrong; `options` with `edges` (compared scale) of those that are numbers.
    """

    sets: tuple[tuple[str, ...], ...]
    chances: Array
    repairs: Repairs
    names: tuple[str, ...]
    options: tuple[Option, ...]
    edges: Mapping[str, tuple[float, ...]]

    @cached_property
    def members(self) -> tuple[tuple[str, ...], Array]:
        """The faults, then "" for nothing wrong; and 1 where a cause holds them, (causes, faults + 1)."""
        named = (*sorted({key for each in self.sets for key in each}), "")
        return named, np.array([[float(key in (each or ("",))) for key in named] for each in self.sets])


def laid_out(
    bank: Bank,
    evidence: Evidence,
    found: Posterior,
    *,
    classes: frozenset[str],
    hand_over: float = HAND_OVER_MINUTES,
) -> Laid:
    """All steps of a case. `classes` are the instrument classes at hand."""
    likely = _Likely(bank, evidence, found)
    opened = opened_paths(bank.catalogue, bank.faults, bank.trials, evidence)
    repairs, names = _repairs(bank, evidence, likely, opened, hand_over)
    options, edges = _readings(bank, evidence, likely, classes)
    options += _trials(bank, evidence, likely, repairs, names)
    options += [repair_option(repairs, at, f"repair {name}") for at, name in enumerate(names)]
    return Laid(
        sets=likely.sets,
        chances=likely.chances,
        repairs=repairs,
        names=names,
        options=tuple(options),
        edges=edges,
    )


def minutes_of_mending(bank: Bank, evidence: Evidence, found: Posterior, *, hand_over: float) -> float:
    """Expected minutes of the best plan of repairs alone, handing over included."""
    likely = _Likely(bank, evidence, found)
    opened = opened_paths(bank.catalogue, bank.faults, bank.trials, evidence)
    repairs, _ = _repairs(bank, evidence, likely, opened, hand_over)
    minutes, _ = mending(repairs, likely.chances[:, None])
    return float(minutes[0])


def mended_faults(bank: Bank, evidence: Evidence) -> tuple[str, ...]:
    """The faults after whose repair the heater ran well."""
    return tuple(
        key
        for key, outcome in sorted(evidence.repairs.items())
        if outcome is Outcome.CURED and key in bank.faults
    )


def no_firing(evidence: Evidence) -> bool:
    """True where a start must not be tried: a chamber still wet, or failed starts and nobody looked."""
    looked = evidence.states.get(CHAMBER)
    if looked is not None:
        return looked.get("wet", 0.0) > 0.0 and not evidence.dried
    lit = evidence.states.get("light_off", {})
    return evidence.starts_without_flame >= 2 or lit.get("did not light", 0.0) >= 0.5


class _Likely:
    """The causes worth counting, part by part as they were weighed."""

    def __init__(self, bank: Bank, evidence: Evidence, found: Posterior) -> None:
        self.bank, self.evidence = bank, evidence
        chances = found.chances.copy()
        if evidence.repairs.get(SOUND) is Outcome.NO_CHANGE:
            chances[found.sets.index(())] = 0.0
        # What the catalogue has is laid out even where it explains little: some step must come next.
        order = np.argsort(-chances[:-1], kind="stable")[: MOST_CAUSES - 1]
        kept = np.sort(order[chances[order] > NEGLIGIBLE * chances[:-1].max()])
        if chances[-1] > NEGLIGIBLE * chances.max():
            kept = np.append(kept, len(chances) - 1)
        self.parts: list[tuple[Weighed, Places]] = []
        used = 0
        for part in found.weighed:
            inside = kept[(kept >= used) & (kept < used + len(part.sets))] - used
            self.parts.append((part, inside))
            used += len(part.sets)
        self.with_unknown = used in kept
        self.sets = tuple(found.sets[at] for at in kept)
        self.chances = chances[kept] / chances[kept].sum()
        known = self.chances[: len(self.chances) - self.with_unknown]
        self.known = known / max(float(known.sum()), 1e-300)

    def rows(self, parts: list[Array]) -> Array:
        """Values of the known causes one below the other, then their mean for the unknown one."""
        known = np.concatenate(parts)
        return np.vstack([known, self.known @ known]) if self.with_unknown else known

    @cached_property
    def numbers(self) -> tuple[Array, Array, Places, Array]:
        """Of all numbers: mean and spread (c, q) by node; cause of the node and its share of it (c,)."""
        means, spreads, causes, shares, at = [], [], [], [], 0
        for part, inside in self.parts:
            cells = part.cells[inside]
            means.append(part.numbers[inside].reshape(cells.size, len(QUANTITIES)))
            spreads.append(np.repeat(part.spreads[inside], cells.shape[1], axis=0))
            causes.append(at + np.repeat(np.arange(len(inside)), cells.shape[1]))
            shares.append(cells.ravel())
            at += len(inside)
        return np.concatenate(means), np.concatenate(spreads), np.concatenate(causes), np.concatenate(shares)

    def bands(self, key: str) -> tuple[Array, tuple[float, ...]]:
        """Chance of each band of a number under each cause, with the edges between the bands."""
        at = COLUMN[key]
        means, spreads, causes, shares = self.numbers
        noise = np.hypot(read_spread(self.bank, key, self.evidence), class_spread(self.bank, key))
        spread = np.hypot(spreads[:, at], noise)
        weights = shares * self.known[causes]
        order = np.argsort(means[:, at], kind="stable")
        run = np.cumsum(weights[order])
        middle = means[order, at]
        marks = np.interp((np.arange(BANDS) + 0.5) / BANDS * run[-1], run, middle)
        edges = np.unique(0.5 * (marks[1:] + marks[:-1]))
        below = cumulative((edges[None, :] - means[:, at, None]) / np.maximum(spread, 1e-12)[:, None])
        below = np.concatenate([np.zeros((len(below), 1)), below, np.ones((len(below), 1))], axis=1)
        table = np.zeros((len(self.known), below.shape[1] - 1))
        np.add.at(table, causes, np.diff(below, axis=1) * shares[:, None])
        return self.rows([table]), tuple(float(edge) for edge in edges)

    def there(self, key: str) -> float:
        """Chance that the number can be read at all. That it cannot is no news: what stands against it, as a
        flame that does not burn, is seen before."""
        parts = [
            np.sum(part.cells[inside] * _there(part, inside, key), axis=1) for part, inside in self.parts
        ]
        return float(self.known @ np.concatenate(parts))

    @cached_property
    def lit(self) -> float:
        """Chance that there is a flame."""
        parts = [
            np.sum(
                part.cells[inside][:, :, None] * part.draws[inside] * part.nodes.lit[part.kept[inside]],
                axis=(1, 2),
            )
            for part, inside in self.parts
        ]
        return float(self.known @ np.concatenate(parts))

    def states(self, reading: str) -> Array:
        """Chance of each state under each cause."""
        parts = []
        for part, inside in self.parts:
            chances = part.nodes.chances[reading][part.kept[inside]]
            cells = part.cells[inside]
            if chances.shape[2] > 1:
                shares = cells[:, :, None] * part.draws[inside]
                parts.append(np.einsum("hcd,hcds->hs", shares, chances))
            else:
                parts.append(np.einsum("hc,hcs->hs", cells, chances[:, :, 0]))
        return self.rows(parts)

    def cured(self, trial: str) -> Array:
        """Chance under each cause that the heater runs well in a trial."""
        parts = [
            np.sum(part.cells[inside] * part.nodes.cured[trial][part.kept[inside]], axis=1)[:, None]
            for part, inside in self.parts
        ]
        return self.rows(parts)[:, 0]


def _there(part: Weighed, inside: Places, key: str) -> Array:
    """Chance that the number can be read at all, (h, c)."""
    quantity, nodes, kept = QUANTITIES[key], part.nodes, part.kept[inside]
    draws = part.draws[inside]
    if key == "run_time_before_stop":
        gate = nodes.lit[kept] * (1.0 - nodes.runs[kept])
    elif key == "time_to_light":
        gate = nodes.lit[kept]
    elif key in WARMED_UP:
        gate = nodes.lit[kept] * nodes.runs[kept]
    elif quantity.needs_flame:
        gate = nodes.lit[kept] * (0.3 + 0.7 * nodes.runs[kept])
    elif quantity.needs_trial:
        gate = nodes.asked[kept]
    else:
        return np.ones(draws.shape[:2])
    return np.asarray(np.sum(draws * gate, axis=2))


def class_spread(bank: Bank, key: str) -> float:
    """Standard uncertainty of the class that reads it, on the scale compared; a middle reading is assumed."""
    entry = bank.catalogue.entries.get(key)
    for name in entry.classes if entry else ():
        known = bank.catalogue.classes.get(name)
        accuracy = known.accuracies.get(key) if known else None
        if accuracy is not None and QUANTITIES[key].floor > 0.0:
            return 0.5 * float(accuracy.relative)
    return 0.0


def _repairs(
    bank: Bank, evidence: Evidence, likely: _Likely, opened: frozenset[str], hand_over: float
) -> tuple[Repairs, tuple[str, ...]]:
    """What mends the likely causes, less what was done or cannot be done here."""
    faults = bank.faults
    tried = {repair_key(faults[key]) for key in evidence.repairs if key in faults}
    mended = {repair_key(faults[key]) for key in mended_faults(bank, evidence)}
    swapped = frozenset[str]().union(*(
        swapped_in(bank.trials[key], faults)
        for key, outcome in evidence.trials.items()
        if outcome is Outcome.CURED and key in bank.trials
    ))  # fmt: skip
    by_repair: dict[str, str] = {}
    for key, _ in sorted(_by_fault(likely).items(), key=lambda each: (-each[1], each[0])):
        by_repair.setdefault(repair_key(faults[key]), key)
    todo = sorted(each for each in by_repair if each not in tried)
    place = {each: at for at, each in enumerate(todo)}
    mends: list[list[list[int]] | None] = []
    for members in likely.sets:
        if not members:
            mends.append([[len(todo)]])
            continue
        needed = {repair_key(faults[key]) for key in members if key != UNKNOWN_KEY}
        cannot = {repair_key(faults[key]) for key in members if evidence.repairs.get(key) is Outcome.NOT_DONE}
        left = sorted(needed - tried)
        if not left and needed & mended:
            mends.append([[len(todo)]])  # it runs well: only showing that is left
        else:
            mends.append([[place[each]] for each in left] if left and not cannot else None)
    named = [faults[by_repair[each]] for each in todo]
    costs = [
        max(fault.parts_minutes, 1.0) if each in swapped else repair_minutes(fault) + fault.parts_minutes
        for each, fault in zip(todo, named, strict=True)
    ]
    paths = [
        NO_PATH if each in swapped or not fault.opens else PATHS.index(fault.opens)
        for each, fault in zip(todo, named, strict=True)
    ]
    return Repairs(
        mends=mends,
        costs=np.array([*costs, SOUND_MINUTES]),
        paths=np.array([*paths, NO_PATH], dtype=np.intp),
        owed=np.array([0.0 if path in opened else OPENING_MINUTES[path] for path in PATHS]),
        hand_over=hand_over,
    ), (*(fault.key for fault in named), SOUND)


def _by_fault(likely: _Likely) -> dict[str, float]:
    found: dict[str, float] = {}
    for members, chance in zip(likely.sets, likely.chances, strict=True):
        for key in members:
            if key != UNKNOWN_KEY:
                found[key] = found.get(key, 0.0) + float(chance)
    return found


def _readings(
    bank: Bank, evidence: Evidence, likely: _Likely, classes: frozenset[str]
) -> tuple[list[Option], dict[str, tuple[float, ...]]]:
    catalogue, barred = bank.catalogue, no_firing(evidence)
    known = evidence.known | evidence.not_possible

    def possible(key: str) -> bool:
        parts = DERIVED.get(key, (key,))
        return not known & {key, *parts} and all(
            part in catalogue.entries and catalogue.entries[part].can_be_taken_with(classes) for part in parts
        )

    keys = [key for key in QUANTITIES if possible(key)]
    looks = [key for key in likely.parts[0][0].nodes.chances if possible(key)]
    firing = [key for key in keys if QUANTITIES[key].needs_flame or QUANTITIES[key].needs_trial]
    firing += [key for key in looks if key in FIRING_LOOKS]
    locked = frozenset(firing) if barred else frozenset[str]()
    unlocks = {CHAMBER: locked if CHAMBER not in evidence.states else frozenset[str]()}
    if FIRST in keys:
        unlocks[FIRST] = AFTER_FIRST - locked
        locked |= AFTER_FIRST
    edges: dict[str, tuple[float, ...]] = {}
    options = []
    for key in (*keys, *looks):
        if key in QUANTITIES:
            there = likely.there(key)
            if there < LEAST_THERE:
                continue
            likelihood, edges[key] = likely.bands(key)
            likelihood = np.hstack([likelihood * there, np.full((len(likelihood), 1), 1.0 - there)])
        elif key in FLAME_LOOKS and likely.lit < LEAST_THERE:
            continue
        else:
            likelihood = likely.states(key)
        path = reading_path(catalogue, key)
        options.append(
            Option(
                key=key,
                cost=reading_minutes(catalogue, key),
                likelihood=likelihood,
                path=PATHS.index(path) if path else NO_PATH,
                locked=key in locked,
                unlocks=unlocks.get(key, frozenset()),
            )
        )
    return options, edges


def _trials(
    bank: Bank, evidence: Evidence, likely: _Likely, repairs: Repairs, names: tuple[str, ...]
) -> list[Option]:
    if no_firing(evidence):
        return []
    options = []
    for key, trial in bank.trials.items():
        if key in evidence.trials or key in evidence.not_possible:
            continue
        cured = likely.cured(key)
        stays = swapped_in(trial, bank.faults)
        kept = [bool(name) and repair_key(bank.faults[name]) in stays for name in names]
        parts = [max(bank.faults[name].parts_minutes, 1.0) if name else 0.0 for name in names]
        swapped = np.where(kept, parts, repairs.costs)
        options.append(
            Option(
                key=key,
                cost=trial.minutes,
                likelihood=np.stack([cured, 1.0 - cured], axis=1),
                path=PATHS.index(trial.opens) if trial.opens else NO_PATH,
                costs_after=np.stack([swapped, repairs.costs]) if stays else None,
            )
        )
    return options
