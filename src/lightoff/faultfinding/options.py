"""What could be done next: each reading, trial and repair with its price and the chance of each outcome.

Only the likely causes are laid out, for what is next to impossible changes no step.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.cost import (
    DERIVED,
    HAND_OVER_MINUTES,
    OPENING_MINUTES,
    SOUND,
    SOUND_MINUTES,
    opened_paths,
    read_along,
    reading_minutes,
    reading_path,
    repair_key,
    repair_minutes,
    swapped_in,
)
from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.faultfinding.likely import WARMED_UP, Likely
from lightoff.faultfinding.planning import NO_PATH, Option, Repairs, mending, repair_option
from lightoff.faultfinding.posterior import UNKNOWN_KEY, Posterior
from lightoff.faultfinding.together import entropy_left, gathered
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.plant.quantities import QUANTITIES

LEAST_THERE = 0.25
"""A number that can be had more seldom than this is not asked for."""
LEAST_ALONG = 0.5
"""A number that is there to be read more seldom than this beside another does not count with it."""
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
WARM_LOOKS = frozenset({"zone_heat", "hot_water", "hot_water_approach", "engine_hose"})
"""Looks at a heater heated through: ten minutes of running and more."""
HEATED_THROUGH_S = 600.0
CHAMBER = "chamber_look"
FIRST = "supply_voltage_rest"
AFTER_FIRST = frozenset(
    {"supply_voltage_igniter", "igniter_voltage_at_lead", "igniter_current", "fan_current",
     "compressor_current", "fuel_pump_current", "ground_drop"}
)  # fmt: skip
"""A current or a drop says nothing before the supply voltage is known. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """How a step that reads numbers is told: chance of each band of the one it is named by under each cause,
    (causes, bands), that it is not there to read last; the edges between the bands (compared scale); and the
    numbers read `along`, which count with it in the step's own outcomes."""

    bands: Array
    edges: tuple[float, ...]
    along: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """The likely causes with their chances, what mends them, and every step that can be taken here.

    `sets` (causes,) as tuples of faults, `members` the faults with "" for nothing wrong and where each cause
    holds them, `names` the fault that stands for each repair, "" for showing that nothing is wrong; `options`
    with how those that read numbers are `told`.
    """

    sets: tuple[tuple[str, ...], ...]
    members: tuple[tuple[str, ...], Array]
    chances: Array
    repairs: Repairs
    names: tuple[str, ...]
    options: tuple[Option, ...]
    told: Mapping[str, Told]


def laid_out(
    bank: Bank,
    evidence: Evidence,
    found: Posterior,
    *,
    classes: frozenset[str],
    hand_over: float = HAND_OVER_MINUTES,
) -> Laid:
    """All steps of a case. `classes` are the instrument classes at hand."""
    likely = Likely(bank, evidence, found)
    opened = opened_paths(bank.catalogue, bank.faults, bank.trials, evidence)
    repairs, names = _repairs(bank, evidence, likely, opened, hand_over)
    options, told = _readings(bank, evidence, likely, classes)
    options += _trials(bank, evidence, likely, repairs, names)
    options += [repair_option(repairs, at, f"repair {name}") for at, name in enumerate(names)]
    return Laid(
        sets=likely.sets,
        members=likely.members,
        chances=likely.chances,
        repairs=repairs,
        names=names,
        options=tuple(options),
        told=told,
    )


def minutes_of_mending(bank: Bank, evidence: Evidence, found: Posterior, *, hand_over: float) -> float:
    """Expected minutes of the best plan of repairs alone, handing over included."""
    likely = Likely(bank, evidence, found)
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


def within_reach(bank: Bank, evidence: Evidence, classes: frozenset[str]) -> Evidence:
    """The same, with the repairs that want an instrument which is not at hand as such that cannot be done."""
    out = {
        key: Outcome.NOT_DONE
        for key, fault in bank.faults.items()
        if key not in evidence.repairs and not classes.issuperset(fault.needs)
    }
    return replace(evidence, repairs={**evidence.repairs, **out})


def dies_cold(evidence: Evidence) -> bool:
    """True where the flame is said or seen to die, and not to have burned long enough to warm anything."""
    burned = evidence.numbers.get("run_time_before_stop")
    if burned is not None:
        return burned.value < HEATED_THROUGH_S
    said = evidence.states.get("owner_says", {}).get("lights then dies", 0.0)
    seen = evidence.states.get("stop_step", {}).get("running", 0.0)
    return max(said, seen) >= 0.5


def _repairs(
    bank: Bank, evidence: Evidence, likely: Likely, opened: frozenset[str], hand_over: float
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


def _by_fault(likely: Likely) -> dict[str, float]:
    found: dict[str, float] = {}
    for members, chance in zip(likely.sets, likely.chances, strict=True):
        for key in members:
            if key != UNKNOWN_KEY:
                found[key] = found.get(key, 0.0) + float(chance)
    return found


def _readings(
    bank: Bank, evidence: Evidence, likely: Likely, classes: frozenset[str]
) -> tuple[list[Option], dict[str, Told]]:
    catalogue, barred = bank.catalogue, no_firing(evidence)
    known = evidence.known | evidence.not_possible
    if dies_cold(evidence):
        known |= WARMED_UP | WARM_LOOKS

    def possible(key: str) -> bool:
        parts = DERIVED.get(key, (key,))
        return not known & {key, *parts} and all(
            part in catalogue.entries and catalogue.entries[part].can_be_taken_with(classes) for part in parts
        )

    keys = [key for key in QUANTITIES if possible(key)]
    looks = [key for key in likely.parts[0].nodes.chances if possible(key)]
    firing = [key for key in keys if QUANTITIES[key].needs_flame or QUANTITIES[key].needs_trial]
    firing += [key for key in looks if key in FIRING_LOOKS]
    locked = frozenset(firing) if barred else frozenset[str]()
    unlocks = {CHAMBER: locked if CHAMBER not in evidence.states else frozenset[str]()}
    if FIRST in keys:
        unlocks[FIRST] = AFTER_FIRST - locked
        locked |= AFTER_FIRST
    told = _numbers(bank, evidence, likely, keys)
    options = []
    for key in (*told, *looks):
        if key in told:
            likelihood = outcomes_of_numbers(likely, key, told[key])
        elif key in FLAME_LOOKS and likely.lit < LEAST_THERE:
            continue
        else:
            likelihood = likely.states(key)
        path = reading_path(catalogue, key)
        along = told[key].along if key in told else ()
        options.append(
            Option(
                key=key,
                cost=max(reading_minutes(catalogue, each) for each in (key, *along)),
                likelihood=likelihood,
                path=PATHS.index(path) if path else NO_PATH,
                locked=key in locked,
                unlocks=unlocks.get(key, frozenset()),
            )
        )
    return options, told


def _numbers(bank: Bank, evidence: Evidence, likely: Likely, keys: Sequence[str]) -> dict[str, Told]:
    """The numbers to ask for, one step each; those that one instrument reads together are one, named by the
    one that tells most by itself."""
    there = {key: each for key in keys if (each := likely.there(key)) >= LEAST_THERE}
    steps: dict[frozenset[str], list[tuple[float, str, Told]]] = {}
    for key, (bands, edges) in likely.bands(list(there)).items():
        chance = there[key]
        bands = np.hstack([bands * chance, np.full((len(bands), 1), 1.0 - chance)])
        along = tuple(
            other
            for other in read_along(bank.catalogue, key, evidence)
            if there.get(other, 0.0) >= LEAST_ALONG * chance
        )
        told = Told(bands=bands, edges=edges, along=along)
        left = entropy_left(likely.chances, bands) if along else 0.0
        steps.setdefault(frozenset({key, *along}), []).append((left, key, told))
    named = (min(each, key=lambda one: one[:2]) for each in steps.values())
    return {key: told for _, key, told in named}


def outcomes_of_numbers(
    likely: Likely, key: str, told: Told, *, unknown: tuple[Array, Array] | None = None
) -> Array:
    """Chance of each outcome of reading this number and those along, under each cause.

    `unknown`: their middles and widths under what nobody wrote down; without it that reads like the others.
    """
    if not told.along:
        return told.bands
    seen = gathered(likely.chances, likely.together((key, *told.along), unknown))
    gone = told.bands[:, -1:]
    return np.hstack([seen * (1.0 - gone), gone])


def _trials(
    bank: Bank, evidence: Evidence, likely: Likely, repairs: Repairs, names: tuple[str, ...]
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
