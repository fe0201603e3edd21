"""Which step next: the test, trial or repair with the least expected minutes until it runs well.

Each possible step is judged by what its outcomes would leave to do, the best few with one more step behind
every outcome (`planning`). Entropy only breaks ties. Basis: heckerman_1995, langseth_2003, dekleer_1987.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
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
from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.faultfinding.meaning import Meaning, meanings
from lightoff.faultfinding.options import CHAMBER, FIRING_LOOKS, PATHS, Laid, laid_out, no_firing
from lightoff.faultfinding.planning import NO_PATH, Option, outlook
from lightoff.faultfinding.posterior import Posterior
from lightoff.ground.values import dataclass
from lightoff.plant.quantities import COLUMN, uncompared

_TIE_MINUTES = 0.25
_LEAST_MOVES = 0.05
"""A step that opens the way to others and moves no cause further is taken for their sake. Judgement."""
_REPAIRED = (Outcome.CURED.value, Outcome.NO_CHANGE.value)
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
    """One way a step may end: a state, or a number between `low` and `high` (SI, None open); its chance, what
    would then lead with its chance, whether that `stays` first, and what it `raises` most, by how much: a
    fault, "" for nothing wrong, "unknown" for none known."""

    state: str = ""
    low: float | None = None
    high: float | None = None
    chance: float
    leads: str
    leads_chance: float
    stays: bool = False
    raises: str = ""
    rise: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step with its price. `minutes` of work, what its path owes and the start that confirms a repair
    included, the price of a part not. `expected_minutes` until it runs well if this comes next;
    `saves_minutes` against the best plan of repairs without it. `along`: what its instrument reads too, which
    counts in both; `outcomes` are of its own number alone. `apart`: the causes that all that it reads tells
    apart, or the one that it proves or clears; none where it only opens the way to what it `unlocks`."""

    kind: Kind
    key: str
    minutes: float
    opens: str
    cautions: tuple[str, ...]
    expected_minutes: float
    saves_minutes: float
    outcomes: tuple[StepOutcome, ...]
    along: tuple[str, ...] = ()
    apart: tuple[str, ...] = ()
    unlocks: bool = False


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
    return until_handing_over(every_step(bank, evidence, laid, worth_it=True), evidence)


def until_handing_over(steps: Sequence[Step], evidence: Evidence) -> tuple[Step, ...]:
    """The steps up to handing over; what comes behind it costs more than it is likely to tell."""
    end = next(at for at, step in enumerate(steps) if step.kind is Kind.HAND_OVER)
    return tuple(_chamber_first([*steps[: end + 1]], evidence))


def every_step(bank: Bank, evidence: Evidence, laid: Laid, *, worth_it: bool = False) -> tuple[Step, ...]:
    """All steps, best first, handing over among them; with `worth_it` none behind it."""
    seen = outlook(laid.repairs, laid.chances, laid.options)
    found = meanings(laid.chances, laid.members, {each.key: each.likelihood for each in laid.options})
    own = {key: told.bands for key, told in laid.told.items()}
    alone = found | (meanings(laid.chances, laid.members, own) if own else {})
    end = _handing_over(laid.repairs.hand_over, seen.mending)
    latest = round(end.expected_minutes / _TIE_MINUTES) if worth_it else np.inf
    steps = [(end, np.inf)]
    for option, expected in zip(laid.options, seen.minutes, strict=True):
        if np.isfinite(expected) and round(expected / _TIE_MINUTES) <= latest:
            means = found[option.key]
            step = _step(
                bank, laid, option, means, alone[option.key], minutes=float(expected), mending=seen.mending
            )
            steps.append((step, means.entropy))
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
    bank: Bank, laid: Laid, option: Option, means: Meaning, alone: Meaning, *, minutes: float, mending: float
) -> Step:
    """One step of the ranking, `minutes` expected if it comes next. `alone`: what its own number means."""
    owed = 0.0 if option.path == NO_PATH else float(laid.repairs.owed[option.path])
    opens = "" if option.path == NO_PATH else PATHS[option.path]
    work, cautions = option.cost, tuple[str, ...]()
    if option.key.startswith("repair "):
        key = option.key.removeprefix("repair ")
        kind = Kind.REPAIR if key != SOUND else Kind.SHOW_SOUND
        if key != SOUND:
            fault = bank.faults[key]
            work = min(option.cost, fault.minutes + CONFIRM_MINUTES)
            opens, cautions = fault.opens, fault.cautions
    elif option.key in bank.trials:
        kind, key, cautions = Kind.TRIAL, option.key, bank.trials[option.key].cautions
    else:
        kind, key = Kind.READING, option.key
        opens = reading_path(bank.catalogue, key)
        parts = (bank.catalogue.entries[part].caution for part in DERIVED.get(key, (key,)))
        cautions = tuple(dict.fromkeys(caution for caution in parts if caution))
    return Step(
        kind=kind,
        key=key,
        minutes=work + owed,
        opens=opens,
        cautions=cautions,
        expected_minutes=minutes,
        saves_minutes=mending - minutes,
        outcomes=() if kind is Kind.SHOW_SOUND else _outcomes(bank, laid, option.key, alone),
        along=laid.told[key].along if key in laid.told else (),
        apart=() if option.unlocks and means.moves < _LEAST_MOVES else means.apart,
        unlocks=bool(option.unlocks),
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


def _outcomes(bank: Bank, laid: Laid, key: str, means: Meaning) -> tuple[StepOutcome, ...]:
    """What each outcome would mean; neighbouring bands that mean the same are told as one."""
    if key in laid.told:
        return _banded(means, laid.told[key].edges, COLUMN[key])
    if key.startswith("repair "):
        states: tuple[str, ...] = _REPAIRED
    else:
        states = bank.trials[key].states if key in bank.trials else bank.catalogue.entries[key].states
    return tuple(
        StepOutcome(
            state=state,
            chance=chance,
            leads=leads,
            leads_chance=of_it,
            stays=leads == means.first,
            raises=raises,
            rise=rise,
        )
        for state, chance, leads, of_it, raises, rise in zip(
            states, means.mass, means.leads, means.chance, means.raises, means.rise, strict=True
        )
    )


def _banded(means: Meaning, edges: tuple[float, ...], column: int) -> tuple[StepOutcome, ...]:
    marks = [None, *uncompared(np.array(edges), column).tolist(), None]
    bands: list[StepOutcome] = []
    for at in range(len(edges) + 1):
        band = StepOutcome(
            low=marks[at],
            high=marks[at + 1],
            chance=means.mass[at],
            leads=means.leads[at],
            leads_chance=means.chance[at],
            stays=means.leads[at] == means.first,
            raises=means.raises[at],
            rise=means.rise[at],
        )
        if bands and (_alike(bands[-1], band) or min(bands[-1].chance, band.chance) < _LEAST_BAND):
            band = _merged(bands.pop(), band)
        bands.append(band)
    merged: list[StepOutcome] = []
    for band in bands:
        if merged and _alike(merged[-1], band):
            merged.append(_merged(merged.pop(), band))
        else:
            merged.append(band)
    return tuple(merged)


def _alike(one: StepOutcome, other: StepOutcome) -> bool:
    return (one.leads, one.raises) == (other.leads, other.raises)


def _merged(one: StepOutcome, other: StepOutcome) -> StepOutcome:
    both = one.chance + other.chance
    main = one if one.chance >= other.chance else other

    def mean(mine: float, its: float) -> float:
        return (mine * one.chance + its * other.chance) / max(both, 1e-300)

    return replace(
        main,
        low=one.low,
        high=other.high,
        chance=both,
        leads_chance=mean(one.leads_chance, other.leads_chance) if _alike(one, other) else main.leads_chance,
        rise=mean(one.rise, other.rise) if _alike(one, other) else main.rise,
    )


__all__ = ["DERIVED", "Kind", "Step", "StepOutcome", "no_firing", "ranked"]
