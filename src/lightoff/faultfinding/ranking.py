"""Which step next: the test, trial or repair with the least expected minutes until it runs well.

Each possible step is judged by what its outcomes would leave to do, the best few with one more step behind
every outcome (`planning`). Entropy only breaks ties. Basis: heckerman_1995, langseth_2003, dekleer_1987.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.cost import (
    CONFIRM_MINUTES,
    DERIVED,
    HAND_OVER_MINUTES,
    SOUND,
    reading_path,
)
from lightoff.faultfinding.evidence import Evidence
from lightoff.faultfinding.options import CHAMBER, FIRING_LOOKS, PATHS, Laid, laid_out, no_firing
from lightoff.faultfinding.planning import NO_PATH, Option, Places, outlook
from lightoff.faultfinding.posterior import Posterior
from lightoff.faultfinding.together import after, entropy_left
from lightoff.physics.uncertain import Array
from lightoff.plant.quantities import COLUMN, uncompared

_TIE_MINUTES = 0.25
_LEAST_BAND = 0.02
"""Bands rarer than this are told with their neighbour."""


class Kind(StrEnum):
    """What a step is."""

    READING = "reading"
    READ_AGAIN = "read again"
    TRIAL = "trial"
    REPAIR = "repair"
    SHOW_SOUND = "show that nothing is wrong"
    HAND_OVER = "hand over"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepOutcome:
    """One way a step may end: a state, or a number between `low` and `high` (SI, None open); its chance, and
    what would then lead with its chance: a fault, "" for nothing wrong, "unknown" for none known."""

    state: str = ""
    low: float | None = None
    high: float | None = None
    chance: float
    leads: str
    leads_chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step with its price. `minutes` of work, what its path owes and the start that confirms a repair
    included, the price of a part not. `expected_minutes` until it runs well if this comes next;
    `saves_minutes` against the best plan of repairs without it. `along`: what its instrument reads too, which
    counts in both; `outcomes` are of its own number alone. `leads`: what would lead after all that it reads,
    the likeliest first."""

    kind: Kind
    key: str
    minutes: float
    opens: str
    cautions: tuple[str, ...]
    expected_minutes: float
    saves_minutes: float
    outcomes: tuple[StepOutcome, ...]
    along: tuple[str, ...] = ()
    leads: tuple[str, ...] = ()


def ranked(
    bank: Bank,
    evidence: Evidence,
    found: Posterior,
    *,
    classes: frozenset[str],
    hand_over: float | None = None,
) -> tuple[Step, ...]:
    """All steps, best first; handing over ends them. `classes` are the instrument classes at hand.

    A wet or unseen chamber after failed starts forbids every step that fires; what opens nothing comes
    before what opens something at the same price.
    """
    laid = laid_out(
        bank,
        evidence,
        found,
        classes=classes,
        hand_over=HAND_OVER_MINUTES if hand_over is None else hand_over,
    )
    return until_handing_over(every_step(bank, evidence, laid), evidence)


def until_handing_over(steps: Sequence[Step], evidence: Evidence) -> tuple[Step, ...]:
    """The steps up to handing over; what comes behind it costs more than it is likely to tell."""
    end = next(at for at, step in enumerate(steps) if step.kind is Kind.HAND_OVER)
    return tuple(_chamber_first([*steps[: end + 1]], evidence))


def every_step(bank: Bank, evidence: Evidence, laid: Laid) -> tuple[Step, ...]:
    """All steps, best first, handing over among them."""
    seen = outlook(laid.repairs, laid.chances, laid.options)
    steps = []
    for option, expected in zip(laid.options, seen.minutes, strict=True):
        if np.isfinite(expected):
            step = _step(bank, evidence, laid, option, float(expected), seen.mending)
            steps.append((step, entropy_left(laid.chances, option.likelihood)))
    steps.append((_handing_over(laid.repairs.hand_over, seen.mending), np.inf))
    steps.sort(
        key=lambda each: (
            round(each[0].expected_minutes / _TIE_MINUTES),
            each[0].opens != "",
            each[1],
            each[0].kind.value,
            each[0].key,
        )
    )
    return tuple(step for step, _ in steps)


def _chamber_first(steps: list[Step], evidence: Evidence) -> list[Step]:
    """After failed starts somebody looks into the chamber before anything is started again."""
    looks = [step for step in steps if step.key == CHAMBER]
    if not looks or not no_firing(evidence):
        return steps
    others = [step for step in steps if step.key != CHAMBER]
    starts = next(
        (at for at, step in enumerate(others) if step.kind is not Kind.READING or step.key in FIRING_LOOKS),
        len(others),
    )
    at = min(starts, steps.index(looks[0]))
    return [*others[:at], *looks, *others[at:]]


def _step(
    bank: Bank, evidence: Evidence, laid: Laid, option: Option, expected: float, mending: float
) -> Step:
    owed = 0.0 if option.path == NO_PATH else float(laid.repairs.owed[option.path])
    opens = "" if option.path == NO_PATH else PATHS[option.path]
    minutes, cautions = option.cost, tuple[str, ...]()
    if option.key.startswith("repair "):
        key = option.key.removeprefix("repair ")
        kind = Kind.REPAIR if key != SOUND else Kind.SHOW_SOUND
        if key != SOUND:
            fault = bank.faults[key]
            minutes = min(option.cost, fault.minutes + CONFIRM_MINUTES)
            opens, cautions = fault.opens, fault.cautions
    elif option.key in bank.trials:
        kind, key, cautions = Kind.TRIAL, option.key, bank.trials[option.key].cautions
    else:
        kind, key = Kind.READING, option.key
        opens = reading_path(bank.catalogue, key)
        parts = (bank.catalogue.entries[part].caution for part in DERIVED.get(key, (key,)))
        cautions = tuple(dict.fromkeys(caution for caution in parts if caution))
    told = () if kind in (Kind.REPAIR, Kind.SHOW_SOUND) else outcomes_of(bank, laid, option)
    return Step(
        kind=kind,
        key=key,
        minutes=minutes + owed,
        opens=opens,
        cautions=cautions,
        expected_minutes=expected,
        saves_minutes=mending - expected,
        outcomes=told,
        along=laid.told[key].along if key in laid.told else (),
        leads=_leads(laid, option) if told else (),
    )


def _handing_over(minutes: float, mending: float) -> Step:
    return Step(
        kind=Kind.HAND_OVER,
        key="",
        minutes=0.0,
        opens="",
        cautions=(),
        expected_minutes=minutes,
        saves_minutes=mending - minutes,
        outcomes=(),
    )


def _leads(laid: Laid, option: Option) -> tuple[str, ...]:
    """What would lead after the step's outcomes, the likeliest first; what hardly ever would is left out."""
    mass, leads, _ = _leading(laid, option.likelihood)
    if option.key in laid.told:
        mass = mass[:-1]  # a number that is not there to read is no outcome to wait for
    by_fault = np.bincount(leads[: len(mass)], mass, minlength=len(laid.members[0]))
    order = np.argsort(-by_fault, kind="stable")
    return tuple(laid.members[0][at] for at in order if by_fault[at] >= _LEAST_BAND)


def outcomes_of(bank: Bank, laid: Laid, option: Option) -> tuple[StepOutcome, ...]:
    """What each outcome would mean; neighbouring bands that lead to the same fault are told as one."""
    number = laid.told.get(option.key)
    mass, leads, shares = _leading(laid, option.likelihood if number is None else number.bands)
    named = laid.members[0]
    states: tuple[str, ...] = ()
    if option.key in bank.trials:
        states = bank.trials[option.key].states
    elif number is None:
        states = bank.catalogue.entries[option.key].states
    told = [
        StepOutcome(
            state=states[at] if states else "",
            chance=float(mass[at]),
            leads=named[leads[at]],
            leads_chance=float(shares[at, leads[at]]),
        )
        for at in range(
            len(mass) - (not states)
        )  # a number that is not there to read is no outcome to wait for
    ]
    return tuple(told) if number is None else _banded(told, number.edges, COLUMN[option.key])


def _leading(laid: Laid, likelihood: Array) -> tuple[Array, Places, Array]:
    """Of each outcome its chance (o,), the place of what would lead (o,), and the chances of all (o, f)."""
    mass, causes = after(laid.chances, likelihood)
    shares = causes @ laid.members[1]
    return mass, np.argmax(shares, axis=1), shares


def _banded(told: list[StepOutcome], edges: tuple[float, ...], column: int) -> tuple[StepOutcome, ...]:
    marks = (None, *(float(uncompared(np.asarray(edge), column)) for edge in edges), None)
    bands: list[StepOutcome] = []
    for at, each in enumerate(told):
        band = replace(each, low=marks[at], high=marks[at + 1])
        if bands and (bands[-1].leads == band.leads or min(bands[-1].chance, band.chance) < _LEAST_BAND):
            bands.append(_merged(bands.pop(), band))
        else:
            bands.append(band)
    merged: list[StepOutcome] = []
    for band in bands:
        if merged and merged[-1].leads == band.leads:
            merged.append(_merged(merged.pop(), band))
        else:
            merged.append(band)
    return tuple(merged)


def _merged(one: StepOutcome, other: StepOutcome) -> StepOutcome:
    both = one.chance + other.chance
    main = one if one.chance >= other.chance else other
    same = one.leads == other.leads
    mean = (one.leads_chance * one.chance + other.leads_chance * other.chance) / max(both, 1e-300)
    return replace(
        main, low=one.low, high=other.high, chance=both, leads_chance=mean if same else main.leads_chance
    )


__all__ = ["DERIVED", "Kind", "Step", "StepOutcome", "no_firing", "ranked"]
