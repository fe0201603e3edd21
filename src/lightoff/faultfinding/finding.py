"""The whole answer: who is suspected and why, what to do next, what does not fit."""

from __future__ import annotations

from lightoff.faultfinding.ages import Age
from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.cost import HAND_OVER_MINUTES, was_read_again
from lightoff.faultfinding.evidence import Evidence
from lightoff.faultfinding.explaining import Clue, clues, odd_readings
from lightoff.faultfinding.handing_over import NOTHING_FITS, before_handing_over
from lightoff.faultfinding.leaving_out import LeftOut, left_out
from lightoff.faultfinding.options import CHAMBER, laid_out, mended_faults, no_firing, within_reach
from lightoff.faultfinding.posterior import UNKNOWN_KEY, Posterior, posterior
from lightoff.faultfinding.ranking import Step, every_step, until_handing_over
from lightoff.ground.values import dataclass
from lightoff.plant.day import stood_long

MOST_SUSPECTS = 6
LEAST_CHANCE = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """One fault with its chance; `low` to `high` is how far it moves when any one reading is left out.

    `age` is that of its part, where it is known.
    """

    fault: str
    chance: float
    low: float
    high: float
    speaks_for: tuple[Clue, ...]
    speaks_against: tuple[Clue, ...]
    age: Age | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What the evidence says. `sound` and `unknown` are chances; `nothing_fits` where the catalogue lacks it.

    `mended` are the faults after whose repair it ran well; `check_again` readings that no likely suspect
    explains and nobody has read again. `chamber_first`: no start before somebody has looked into the chamber,
    or while it is wet, which `chamber_wet` says. `stood_long`: its fuel line may have run empty before this
    start. `set_lower_m`: how far below this place its air was set, as far as is known. `told_twice`: readings
    that were told in two ways.
    """

    suspects: tuple[Suspect, ...]
    sound: float
    unknown: float
    nothing_fits: bool
    steps: tuple[Step, ...]
    check_again: tuple[str, ...]
    chamber_first: bool
    chamber_wet: bool
    stood_long: bool
    set_lower_m: float
    told_twice: tuple[str, ...]
    mended: tuple[str, ...]
    posterior: Posterior


def find(
    bank: Bank,
    evidence: Evidence,
    *,
    classes: frozenset[str],
    pairs: bool = True,
    hand_over: float | None = None,
) -> Finding:
    """The finding of a case. `classes` are the instruments at hand. The same evidence, the same answer."""
    found = posterior(bank, evidence, pairs=pairs)
    chances = dict(found.faults())
    unknown = chances.pop(UNKNOWN_KEY, 0.0)
    leading = sorted(chances.items(), key=lambda each: (-each[1], each[0]))[:MOST_SUSPECTS]
    leading = [each for each in leading if each[1] >= LEAST_CHANCE]
    without = left_out(bank, evidence, found)
    others = [without.faults(key) for key in sorted(without.by_reading)]
    known = 1.0 - unknown
    suspects = []
    for fault, chance in leading:
        moved = [chance, *(known * each.get(fault, 0.0) for each in others)]
        told = clues(without, fault)
        suspects.append(
            Suspect(
                fault=fault,
                chance=chance,
                low=min(moved),
                high=max(moved),
                speaks_for=tuple(each for each in told if each.ratio > 1.0),
                speaks_against=tuple(each for each in told if each.ratio < 1.0),
                age=bank.ages.get(fault),
            )
        )
    odd = odd_readings(without)
    minutes = HAND_OVER_MINUTES if hand_over is None else hand_over
    return Finding(
        suspects=tuple(suspects),
        sound=found.sound,
        unknown=unknown,
        nothing_fits=unknown > NOTHING_FITS,
        steps=_steps(bank, evidence, found, without, odd, classes=classes, hand_over=minutes),
        check_again=tuple(key for key in odd if not was_read_again(evidence, key)),
        chamber_first=no_firing(evidence),
        chamber_wet=no_firing(evidence) and CHAMBER in evidence.states,
        stood_long=stood_long(bank.conditions.since_fired_s),
        told_twice=tuple(sorted(evidence.told_twice)),
        set_lower_m=bank.conditions.altitude_m - bank.conditions.set_altitude_m,
        mended=mended_faults(bank, evidence),
        posterior=found,
    )


def _steps(
    bank: Bank,
    evidence: Evidence,
    found: Posterior,
    without: LeftOut,
    odd: tuple[str, ...],
    *,
    classes: frozenset[str],
    hand_over: float,
) -> tuple[Step, ...]:
    evidence = within_reach(bank, evidence, classes)
    laid = laid_out(bank, evidence, found, classes=classes, hand_over=hand_over)
    if found.of(UNKNOWN_KEY) > NOTHING_FITS:
        return before_handing_over(bank, evidence, found, without, laid, odd=odd)
    return until_handing_over(every_step(bank, evidence, laid, worth_it=True), evidence)
