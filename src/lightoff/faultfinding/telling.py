"""The finding as messages: what page, report and command line say in the same words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from lightoff.faultfinding.ages import Age
from lightoff.faultfinding.evidence import Evidence
from lightoff.faultfinding.explaining import SPEAKS, Clue
from lightoff.faultfinding.finding import Finding, Suspect
from lightoff.faultfinding.handing_over import OTHERWISE
from lightoff.faultfinding.options import CHAMBER
from lightoff.faultfinding.ranking import DERIVED, Kind, Step, StepOutcome
from lightoff.faultfinding.unknown import UNKNOWN_KEY
from lightoff.ground.message import Amount, Message, message
from lightoff.plant.number import Side
from lightoff.plant.quantities import QUANTITIES

CHANCE_WORDS = (
    (0.90, "finding_chance.almost_sure"),
    (0.66, "finding_chance.likely"),
    (0.40, "finding_chance.even"),
    (0.15, "finding_chance.possible"),
    (0.05, "finding_chance.unlikely"),
    (0.0, "finding_chance.hardly"),
)
"""Words for chances from this value up. Common practice, no source."""
MOST_CLUES = 2
MONTHS_TOLD = 24.0
"""Ages up to this are told in months, longer ones in years."""
SET_LOWER_M = 500.0
"""From what difference of height on it is told that the air was set lower: 6 % of the air. Judgement."""
SEEN_ON_THE_SHEET = frozenset(
    {"finding.one_leads", "finding.two_lead", "finding.chamber_first", "finding.chamber_wet"}
)
"""Conclusions that a list of suspects beneath a banner shows by itself."""
_TENTHS_FROM, _TENTHS_BELOW = 0.095, 0.95
_LEAST_OUTCOME = 0.02
LITTLE = 0.03
"""An outcome that raises no chance further is said to change little. Judgement."""
ASKED = frozenset({
    "fumes_inside", "owner_says", "last_work", "trials_without_flame", "last_good_run", "fuel_at_pickup",
    "starts_tried", "fuel_smell",
})  # fmt: skip
"""What is asked whatever the ranking says, each with its own reason."""


def chance_word(chance: float) -> str:
    """The key of the word for a chance, to the hundredth: what differs by less is told alike."""
    return next(key for least, key in CHANCE_WORDS if round(chance, 2) >= least)


def share(chance: float, low: float | None = None, high: float | None = None) -> Message:
    """A chance as "about 6 in 10 (4 to 8)"; where any of the three is near none or all, in a hundred."""
    three = (chance, chance if low is None else low, chance if high is None else high)
    whole = 10 if min(three) >= _TENTHS_FROM and max(three) < _TENTHS_BELOW else 100
    count, least, most = (round(whole * each) for each in three)
    if count == 0 and most == 0:
        return message("finding.share_none")
    if count == 100 and least == 100:
        return message("finding.share_all")
    count, most = min(count, 99), min(most, 99)  # nothing is certain
    if least == most:
        return message("finding.share_alone", count=count, whole=whole)
    return message("finding.share", count=count, whole=whole, low=least, high=most)


def speaks_for(suspect: Suspect, evidence: Evidence, *, most: int = MOST_CLUES) -> tuple[Message, ...]:
    """The `most` strongest readings for a suspect, a sentence each, and the age of its part."""
    told = [_clue(each, evidence, "for") for each in suspect.speaks_for[:most]]
    if suspect.age is not None and suspect.age.ratio > SPEAKS:
        told.append(_age(suspect.age))
    return tuple(told) or (message("finding.nothing_for"),)


def speaks_against(suspect: Suspect, evidence: Evidence, *, most: int = MOST_CLUES) -> tuple[Message, ...]:
    """The `most` strongest readings against a suspect, a sentence each, and the age of its part."""
    told = [_clue(each, evidence, "against") for each in suspect.speaks_against[:most]]
    if suspect.age is not None and suspect.age.ratio < 1.0 / SPEAKS:
        told.append(_age(suspect.age))
    return tuple(told) or (message("finding.nothing_against"),)


def conclusion(finding: Finding) -> tuple[Message, ...]:
    """Where the finding stands, in a few sentences, worst first."""
    return tuple(_conclusion(finding))


def no_start(finding: Finding) -> Message:
    """Why nothing is started, where `finding.chamber_first`."""
    return message("finding.chamber_wet" if finding.chamber_wet else "finding.chamber_first")


def why(step: Step, *, chosen: bool = False) -> Message:
    """Why this step comes next; of a repair that somebody has `chosen` before its turn, that he did."""
    if step.kind is Kind.SHOW_SOUND:
        return message("finding.why_sound")
    if step.kind is Kind.HAND_OVER:
        return message("finding.why_hand_over")
    if not step.outcomes or (chosen and step.kind is Kind.REPAIR):  # no ranking put it first
        return message(f"finding.why_asked_{step.key}" if step.key in ASKED else "finding.why_chosen")
    if step.kind is Kind.REPAIR:
        return message("finding.why_repair", fault=f"@fault.{step.key}")
    named = [each for each in step.apart if each not in ("", UNKNOWN_KEY)]
    if step.kind is Kind.READ_AGAIN:
        return _why_again(named)
    if step.unlocks and not step.apart:
        return message("finding.why_chamber" if step.key == CHAMBER else "finding.why_supply")
    if not named and UNKNOWN_KEY in step.apart:
        return message("finding.why_check")
    if len(named) > 1:
        return message("finding.why_splits", one=f"@fault.{named[0]}", other=f"@fault.{named[1]}")
    if named:
        return message("finding.why_proves", one=f"@fault.{named[0]}")
    return message("finding.why_clears")


def outcomes(step: Step) -> tuple[Message, ...]:
    """What each outcome would mean."""
    told = [each for each in step.outcomes if each.chance >= _LEAST_OUTCOME]
    if step.kind is Kind.READ_AGAIN:
        return tuple(_outcome_again(each) for each in told)
    said = _folded(told)
    if len(told) > 1 and all(meaning == said[0][1] for _, meaning in said):
        return (message("finding.outcome_any", meaning=said[0][1]),)
    alone = (message("finding.outcome_along"),) if step.along else ()
    return (*(_outcome(step, *each) for each in said), *alone)


def _folded(told: Sequence[StepOutcome]) -> list[tuple[StepOutcome, Message]]:
    """Outcomes with what they mean; neighbouring bands of a number that mean the same are one."""
    said: list[tuple[StepOutcome, Message]] = []
    for each in told:
        meaning = _meaning(each)
        if said and not each.state and said[-1][1] == meaning:
            each = replace(each, low=said.pop()[0].low)
        said.append((each, meaning))
    return said


def step_name(step: Step) -> Message:
    """What a step is called."""
    match step.kind:
        case Kind.REPAIR:
            return message(f"reading.repair_{step.key}")
        case Kind.READ_AGAIN:
            return message("finding.read_again", what=f"@reading.{step.key}")
        case Kind.SHOW_SOUND:
            return message("finding.show_sound")
        case Kind.HAND_OVER:
            return message("finding.hand_over")
        case _:
            return message(f"reading.{step.key}")


def step_how(step: Step) -> Message:
    """How it is done."""
    match step.kind:
        case Kind.REPAIR:
            return message(f"reading_how.repair_{step.key}")
        case Kind.SHOW_SOUND:
            return message("finding.how_sound")
        case Kind.HAND_OVER:
            return message("finding.how_hand_over")
        case _:
            return message(f"reading_how.{step.key}")


def readings_of(step: Step) -> tuple[str, ...]:
    """The catalogue keys that a step fills."""
    return DERIVED.get(step.key, (step.key,)) if step.kind in (Kind.READING, Kind.READ_AGAIN) else ()


def _conclusion(finding: Finding) -> Iterator[Message]:
    if finding.chamber_first:
        yield no_start(finding)
    if finding.stood_long and not finding.mended:
        yield message("finding.stood_long")
    if finding.mended:
        yield message("finding.mended", fault=f"@fault.{finding.mended[-1]}")
    elif finding.nothing_fits:
        yield message("finding.nothing_fits")
    elif finding.suspects:
        first = finding.suspects[0]
        if finding.sound > first.chance:
            yield from _sound(finding)
        elif len(finding.suspects) > 1 and finding.suspects[1].chance > 0.6 * first.chance:
            yield message(
                "finding.two_lead",
                one=f"@fault.{first.fault}",
                other=f"@fault.{finding.suspects[1].fault}",
            )
        else:
            yield message(
                "finding.one_leads", one=f"@fault.{first.fault}", chance=f"@{chance_word(first.chance)}"
            )
    else:
        yield from _sound(finding)
    for key in finding.told_twice:
        yield message("finding.told_twice", what=f"@reading.{key}")
    for key in finding.check_again:
        yield message("finding.check_again", what=f"@reading.{key}")


def _sound(finding: Finding) -> Iterator[Message]:
    yield message("finding.sound_leads", chance=f"@{chance_word(finding.sound)}")
    if finding.set_lower_m >= SET_LOWER_M:
        yield message("finding.set_lower", height=Amount(value=finding.set_lower_m, dimension="length"))


def _clue(clue: Clue, evidence: Evidence, side: str) -> Message:
    what = f"@reading.{clue.key}"
    if clue.key in evidence.states:
        seen = evidence.states[clue.key]
        most = max(seen.values())
        likeliest = [state for state, weight in seen.items() if weight == most]
        said = _state(clue.key, likeliest[0]) if len(likeliest) == 1 else "@finding.something"
        return message(f"finding.state_{side}", what=what, state=said)
    if clue.key in evidence.trials:
        outcome = evidence.trials[clue.key].value
        return message(f"finding.state_{side}", what=what, state=_state(clue.key, outcome))
    number, dimension = evidence.numbers[clue.key], QUANTITIES[clue.key].dimension
    beyond = "" if number.side is Side.EXACT else "_beyond"
    return message(
        f"finding.number_{side}{beyond}",
        what=what,
        value=Amount(value=number.value, dimension=dimension),
        low=Amount(value=clue.low or 0.0, dimension=dimension),
        high=Amount(value=clue.high or 0.0, dimension=dimension),
    )


def _age(age: Age) -> Message:
    """How old a part is beside what such parts are taken to last; in years where it has some."""
    in_years = age.clock == "months" and min(age.used, age.life) >= MONTHS_TOLD
    unit = "years" if in_years else age.clock
    used, life = (
        Amount(value=each / (12.0 if in_years else 1.0), dimension="count", significant=2)
        for each in (age.used, age.life)
    )
    return message(f"finding.age_{unit}", part=f"@part.{age.part}", used=used, life=life)


def _state(key: str, state: str) -> str:
    return f"@state.{state.replace(' ', '_')}"


def _why_again(named: Sequence[str]) -> Message:
    if not named:
        return message("finding.why_again")
    return message("finding.why_again_leads", one=f"@fault.{named[0]}")


def _outcome_again(outcome: StepOutcome) -> Message:
    kind = "otherwise" if outcome.state == OTHERWISE else "same"
    return message(f"finding.again_{kind}", leads=_leads(outcome.leads))


def _leads(key: str) -> str:
    if key == UNKNOWN_KEY:
        return "@finding.nothing_known"
    return f"@fault.{key}" if key else "@finding.nothing_wrong"


def _outcome(step: Step, outcome: StepOutcome, meaning: Message) -> Message:
    if outcome.state:
        return message("finding.outcome_state", state=_state(step.key, outcome.state), meaning=meaning)
    dimension = QUANTITIES[step.key].dimension
    low, high = (
        None if each is None else Amount(value=each, dimension=dimension)
        for each in (outcome.low, outcome.high)
    )
    if low is None and high is None:
        return message("finding.outcome_any", meaning=meaning)
    if low is None and high is not None:
        return message("finding.outcome_below", high=high, meaning=meaning)
    if high is None and low is not None:
        return message("finding.outcome_above", low=low, meaning=meaning)
    return message("finding.outcome_between", low=low or "", high=high or "", meaning=meaning)


def _meaning(outcome: StepOutcome) -> Message:
    """What an outcome speaks for, and what leads after it where that is something else."""
    if outcome.rise < LITTLE:
        return message("finding.means_little")
    if outcome.leads == outcome.raises:
        return _points(outcome.leads)
    stays = "stays" if outcome.stays else "then"
    return message(f"finding.means_{stays}", raises=_noun(outcome.raises), leads=_noun(outcome.leads))


def _points(key: str) -> Message:
    return message("finding.means_points", leads=_leads(key))


def _noun(key: str) -> str:
    if key == UNKNOWN_KEY:
        return "@finding.not_listed"
    return f"@fault.{key}" if key else "@finding.in_order"
