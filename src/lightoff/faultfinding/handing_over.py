"""What is still worth doing where nothing of the catalogue fits, before handing over.

A reading that is a slip hides a known cause: what fits least is taken again. Quick looks that open nothing
tell a known cause from one that nobody wrote down. Each step is used up by doing it, so that the plan always
comes to handing over.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from lightoff.faultfinding.bank import Bank
from lightoff.faultfinding.cost import CHEAP_MINUTES, DERIVED, reading_minutes, reading_path, was_read_again
from lightoff.faultfinding.evidence import Evidence
from lightoff.faultfinding.leaving_out import LeftOut
from lightoff.faultfinding.likely import Likely, class_spread
from lightoff.faultfinding.options import (
    FIRING_LOOKS,
    Laid,
    minutes_of_mending,
    no_firing,
    outcomes_of_numbers,
)
from lightoff.faultfinding.planning import Option
from lightoff.faultfinding.posterior import Posterior
from lightoff.faultfinding.ranking import Kind, Step, StepOutcome, every_step, until_handing_over
from lightoff.faultfinding.unknown import (
    UNKNOWN_KEY,
    cured_of_unknown,
    number_of_unknown,
    states_of_unknown,
    unknown_said,
)
from lightoff.ground.values import dataclass
from lightoff.physics.normal import cumulative
from lightoff.physics.uncertain import Array
from lightoff.plant.quantities import QUANTITIES

NOTHING_FITS = 0.5
"""Chance of what the catalogue lacks from which nothing is said to fit. Judgement, no source."""
SLIP = 0.05
"""One reading in twenty is misread, mistyped or of a meter gone wrong. Judgement, no source."""
WORTH_READING_AGAIN = 0.10
"""Chance of a slip from which a reading is taken again though it is not odd by itself. Judgement."""
MOST_AGAIN, MOST_CHECKS = 3, 3
LEAST_TOLD = 0.05
"""Nats about known or not known, were both as likely, from which a look is worth its minute. Judgement."""
OTHERWISE, SAME = "reads otherwise", "reads the same"


def before_handing_over(
    bank: Bank,
    evidence: Evidence,
    found: Posterior,
    without: LeftOut,
    laid: Laid,
    *,
    odd: Sequence[str],
) -> tuple[Step, ...]:
    """The plan where nothing fits: what promises to get it mended all the same, best first; what fits least,
    read again; quick looks; handing over. `odd` are the readings that no known cause explains."""
    laid = with_unknown(bank, evidence, found, laid)
    steps = every_step(bank, evidence, laid)
    end = next(step for step in steps if step.kind is Kind.HAND_OVER)
    again = _read_again(bank, evidence, found, without, laid, odd)
    worth = [step for step in (*again, *steps) if step.expected_minutes < end.expected_minutes]
    worth.sort(key=lambda step: step.expected_minutes)
    checks = [step for step in _checks(laid, steps) if step not in worth]
    rest = [step for step in again if step not in worth]
    return until_handing_over((*worth, *rest, *checks[:MOST_CHECKS], end), evidence)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Slip:
    """Chance that one reading is a slip, and those of all sets, the unknown last, if it is."""

    chance: float
    chances: Array


def _slip(found: Posterior, after: Array, unknown: float) -> _Slip:
    """`after` (h,) the log chance of the reading under each set with all else known, `unknown` under none."""
    # A slip may read anything: as wide as what a fault that nobody wrote down would read.
    ratio = np.append(np.exp(np.clip(unknown - after, None, 500.0)), 1.0)
    weights = found.chances * ratio
    odds = SLIP / (1.0 - SLIP) * float(weights.sum())
    return _Slip(chance=odds / (1.0 + odds), chances=weights / weights.sum())


def _read_again(
    bank: Bank, evidence: Evidence, found: Posterior, without: LeftOut, laid: Laid, odd: Sequence[str]
) -> list[Step]:
    said, barred = unknown_said(bank, evidence), no_firing(evidence)
    slips = {
        key: _slip(found, without.by_reading[key].after, said[key])
        for key in sorted(without.by_reading)
        if key in said
        and key not in evidence.trials
        and not was_read_again(evidence, key)
        and not (barred and _fires(key))
    }
    wanted = [key for key, slip in slips.items() if key in odd or slip.chance >= WORTH_READING_AGAIN]
    if not wanted and len(evidence.read_again) < MOST_AGAIN:
        wanted = sorted(slips, key=lambda key: (-slips[key].chance, key))[:1]
    steps = [_again(bank, evidence, found, laid, key, slips[key]) for key in wanted]
    steps.sort(key=lambda step: (step.expected_minutes, step.key))
    return steps[:MOST_AGAIN]


def _again(bank: Bank, evidence: Evidence, found: Posterior, laid: Laid, key: str, slip: _Slip) -> Step:
    hand_over = laid.repairs.hand_over
    supposed = replace(found, chances=slip.chances)
    left = minutes_of_mending(bank, evidence, supposed, hand_over=hand_over)
    minutes = reading_minutes(bank.catalogue, key)
    expected = minutes + slip.chance * left + (1.0 - slip.chance) * hand_over
    leads, chance = _leading(supposed)
    cautions = (bank.catalogue.entries[part].caution for part in DERIVED.get(key, (key,)))
    return Step(
        kind=Kind.READ_AGAIN,
        key=key,
        minutes=minutes,
        opens=reading_path(bank.catalogue, key),
        cautions=tuple(dict.fromkeys(each for each in cautions if each)),
        expected_minutes=expected,
        saves_minutes=hand_over - expected,
        outcomes=(
            StepOutcome(state=OTHERWISE, chance=slip.chance, leads=leads, leads_chance=chance),
            StepOutcome(
                state=SAME,
                chance=1.0 - slip.chance,
                leads=UNKNOWN_KEY,
                leads_chance=found.of(UNKNOWN_KEY),
            ),
        ),
        apart=(leads, UNKNOWN_KEY),
    )


def _leading(found: Posterior) -> tuple[str, float]:
    """What leads, "" for nothing wrong, with its chance."""
    chances = {**found.faults(), "": found.sound}
    leads = max(sorted(chances), key=lambda key: chances[key])
    return leads, chances[leads]


def _fires(key: str) -> bool:
    quantity = QUANTITIES.get(key)
    return key in FIRING_LOOKS or (quantity is not None and (quantity.needs_flame or quantity.needs_trial))


def with_unknown(bank: Bank, evidence: Evidence, found: Posterior, laid: Laid) -> Laid:
    """The steps with the chance of each outcome under what nobody wrote down as it is held to be."""
    if laid.sets[-1] != (UNKNOWN_KEY,):
        return laid
    likely, told, options = Likely(bank, evidence, found), dict(laid.told), []
    for option in laid.options:
        row, likelihood = _of_unknown(bank, evidence, laid, option), option.likelihood
        own = laid.told.get(option.key)
        if own is not None and row is not None:
            told[option.key] = replace(own, bands=np.vstack([own.bands[:-1], row]))
            reads = _numbers_of_unknown(bank, evidence, (option.key, *own.along))
            likelihood = outcomes_of_numbers(likely, option.key, told[option.key], unknown=reads)
        elif row is not None:
            likelihood = np.vstack([likelihood[:-1], row])
        options.append(replace(option, likelihood=likelihood))
    return replace(laid, options=tuple(options), told=told)


def _of_unknown(bank: Bank, evidence: Evidence, laid: Laid, option: Option) -> Array | None:
    """Chance of each outcome of a reading or trial under it; None for a repair."""
    key = option.key
    if key in bank.trials:
        cured = cured_of_unknown(bank, key)
        return np.array([cured, 1.0 - cured])
    if key in laid.told:
        middle, width = _numbers_of_unknown(bank, evidence, (key,))
        below = cumulative((np.array(laid.told[key].edges) - middle) / width)
        bands = np.diff(np.concatenate([[0.0], below, [1.0]]))
        # That it cannot be read at all tells nothing.
        gone = laid.told[key].bands[-1, -1]
        return np.append(bands * (1.0 - gone), gone)
    return states_of_unknown(bank, key) if key in bank.singles.chances else None


def _numbers_of_unknown(bank: Bank, evidence: Evidence, keys: Sequence[str]) -> tuple[Array, Array]:
    """Middles and widths of numbers as they would be read under it; it ties none to another."""
    middles, widths = np.array([number_of_unknown(bank, evidence, key) for key in keys]).T
    return middles, np.hypot(widths, [class_spread(bank, key) for key in keys])


def _checks(laid: Laid, steps: Sequence[Step]) -> list[Step]:
    """Quick looks that open nothing, by what they tell about known or not known for their minutes."""
    if laid.sets[-1] != (UNKNOWN_KEY,):
        return []
    options = {option.key: option for option in laid.options}
    told = []
    for step in steps:
        if step.kind is not Kind.READING or step.opens or step.minutes > CHEAP_MINUTES:
            continue
        nats = tells(laid.chances, options[step.key].likelihood)
        if nats >= LEAST_TOLD:
            told.append((nats / step.minutes, step))
    told.sort(key=lambda each: (-each[0], each[1].key))
    return [step for _, step in told]


def tells(chances: Array, likelihood: Array) -> float:
    """Nats that an outcome tells about known causes against the unknown one, the last, were both as likely.

    As likely, because a belief that leaves the known ones next to nothing finds no look worth anything, and
    it is that belief which is in question.
    """
    known = chances[:-1] / max(float(chances[:-1].sum()), 1e-300)
    both = np.maximum(np.stack([known @ likelihood[:-1], likelihood[-1]]), 1e-300)
    return float(0.5 * np.sum(both * np.log(both / both.mean(axis=0))))
