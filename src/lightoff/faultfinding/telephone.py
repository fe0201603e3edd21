"""Before travelling: what the owner is asked by telephone, and the one thing the call ends in.

Try this, come with these parts, or stop and ventilate. Danger ends the call at once; nobody is asked for a
start that would follow one without a flame, for a third one of any kind, or where fuel may lie unburnt.
Thresholds are judgement, no source.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from enum import StrEnum

from lightoff.faultfinding.asking import (
    ONCE_MORE,
    OWNER_SAYS,
    asked_first,
    flame_died,
    reading_step,
    tried_without_flame,
)
from lightoff.faultfinding.evidence import Evidence, Outcome
from lightoff.faultfinding.finding import Finding
from lightoff.faultfinding.posterior import UNKNOWN_KEY, Posterior
from lightoff.faultfinding.ranking import Kind, Step
from lightoff.ground.values import dataclass
from lightoff.terms.shelf import Catalogue, Fault

MOST_QUESTIONS = 7
FUMES = "fumes_inside"
ANSWERED_BY_OWNERS = frozenset(
    {FUMES, "owner_says", "last_work", "trials_without_flame", "light_off", "stop_step", "smoke_colour",
     "exhaust_smell", "fuel_at_pickup", "fuel_bought", "charger", "panel_switch", "thermostat_set",
     "zone_heat", "hot_water", "fan_sound", "burner_sound", "coolant_level", "place_height",
     "lockout_state", "tank_trend", "solvent_smell", "fuel_smell", "last_good_run", "starts_tried"}
)  # fmt: skip
"""What an owner can answer from memory, without opening, touching or starting anything."""
MENDED_BY_OWNERS = (
    "switch_off",
    "thermostat_satisfied",
    "battery_weak",
    "tank_empty",
    "pickup_uncovered",
    "cold_fuel",
)
"""Operating causes that an owner can put right without opening anything."""
FUEL_LEVEL = "fuel_at_pickup"
"""Asked of every heater that tries or dies, however seldom it is that. Common practice, no source."""
STARTS = "starts_tried"
BEFORE_A_START = (STARTS, "fuel_smell")
"""What must be known of a flame that died before anybody is asked to start it. The control's own tries count:
one of them may have sprayed fuel without a flame."""
MOST_STARTS = 2
UNBURNT: Mapping[str, frozenset[str]] = {
    "fuel_smell": frozenset({"faint", "strong"}),
    "exhaust_smell": frozenset({"of raw fuel"}),
    "smoke_colour": frozenset({"white"}),
}
"""Answers that say that fuel did not burn: it may lie in the chamber. Common practice, no source."""
DANGERS: Mapping[str, frozenset[str]] = {
    FUMES: frozenset({"smell or headache", "alarm sounded"}),
    "exhaust_path": frozenset({"leaking inside", "blocked"}),
    "fuel_smell": frozenset({"strong"}),
    "solvent_smell": frozenset({"of solvent"}),
    "chamber_coolant": frozenset({"coolant in it"}),
    "chamber_look": frozenset({"wet"}),
}
"""Answers that end the call: stop and ventilate."""
DANGEROUS = frozenset(
    {"exhaust_leaking", "exhaust_blocked", "exhaust_drawn_back", "fuel_valve_weeping", "jacket_leaking",
     "solvent_left", "wrong_fuel"}
)  # fmt: skip
"""Faults with which nobody may go on running the heater until somebody has come."""
DANGER_FROM = 0.25
TRY_FROM, TRY_AT_THE_END_FROM = 0.40, 0.20
ONCE_MORE_FROM = 0.15
SPARES_FROM = 0.03
PARTS_COVER, WORTH_CARRYING = 0.90, 0.04
"""Share of what is suspected that the parts should mend, and the least that one must add to be carried."""
ORDERED = frozenset({"jacket", "engine_exchanger", "exhaust", "burn_tube"})
"""Measured, seen and ordered before anybody brings one. Common practice, no source."""


class Ends(StrEnum):
    """What a call ends in."""

    TRY = "try this"
    COME = "come, carrying"
    STOP = "stop, ventilate"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """How the call ends.

    `fault` is what the owner is to put right ("" if nothing, `ONCE_MORE` a line that ran empty), and `helped`
    whether he did and it runs;
    `parts` are to be carried and mend `covered` of what is suspected; `danger` is the reading that ended it,
    or the fault. `no_start`: nothing is to be switched on before somebody has looked.
    """

    ends: Ends
    fault: str = ""
    helped: bool = False
    parts: tuple[str, ...] = ()
    covered: float = 0.0
    danger: str = ""
    no_start: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """Where a call stands: the next question, or its ending; never both. `asked` questions were answered."""

    asked: int
    question: Step | None = None
    ending: Ending | None = None


def call(
    finding: Finding,
    evidence: Evidence,
    *,
    read: frozenset[str],
    catalogue: Catalogue,
    faults: Mapping[str, Fault],
) -> Call:
    """The next question to the owner, or how the call ends. `read`: what was had, or could not be had."""
    asked = len(read & ANSWERED_BY_OWNERS)
    danger = _danger(finding, evidence)
    if danger:
        return Call(asked=asked, ending=Ending(ends=Ends.STOP, danger=danger, no_start=True))
    may_start = _may_start(finding, evidence, read)
    trying = _to_try(finding, evidence, may_start=may_start, least=TRY_AT_THE_END_FROM)
    helped = trying is not None and trying.helped
    burns_badly = not helped and (flame_died(evidence) or tried_without_flame(evidence))
    for key in (FUMES, asked_first(evidence, read), FUEL_LEVEL if burns_badly else ""):
        if key in catalogue.entries and key not in read:
            return Call(asked=asked, question=reading_step(key, catalogue))
    unasked = [key for key in BEFORE_A_START if key not in read] if flame_died(evidence) else []
    kept_back = len(unasked) if trying is not None else 0
    sure = _to_try(finding, evidence, may_start=may_start, least=TRY_FROM)
    question = None
    if sure is None and asked + kept_back < MOST_QUESTIONS:
        question = _worth_asking(finding, read, owner_may_mend=may_start)
    if question is not None:
        return Call(asked=asked, question=question)
    if trying is not None and (trying.helped or not unasked):
        return Call(asked=asked, ending=trying)
    if trying is not None and asked + kept_back <= MOST_QUESTIONS:
        return Call(asked=asked, question=reading_step(unasked[0], catalogue))
    sound = evidence.states.get(OWNER_SAYS, {}).get("runs well", 0.0) >= 0.5 and finding.sound > max(
        (each.chance for each in finding.suspects), default=0.0
    )
    parts, covered = ((), 1.0) if sound else parts_to_carry(finding.posterior, faults)
    unseen = finding.chamber_first or tried_without_flame(evidence)
    return Call(asked=asked, ending=Ending(ends=Ends.COME, parts=parts, covered=covered, no_start=unseen))


def parts_to_carry(
    found: Posterior,
    faults: Mapping[str, Fault],
    *,
    least: float = PARTS_COVER,
    worth: float = WORTH_CARRYING,
) -> tuple[tuple[str, ...], float]:
    """Parts that mend `least` of what is suspected, the most useful first, and how much they mend.

    What would add less than `worth`, and what is ordered only once it was seen, stays at home. A suspicion is
    covered when every part that it uses up is carried; one that uses up none is covered by the tools. What is
    not in the catalogue, and that nothing is wrong, are counted out.
    """
    needs = [
        (frozenset(faults[key].takes for key in each if key in faults and faults[key].takes), float(chance))
        for each, chance in zip(found.sets, found.chances, strict=True)
        if each and UNKNOWN_KEY not in each
    ]
    whole = sum(chance for _, chance in needs)
    if whole <= 0.0:
        return (), 0.0
    carried: list[str] = []
    while _covered(needs, carried) < least * whole:
        gains: dict[str, float] = {}
        for parts, chance in needs:
            missing = parts - set(carried)
            for part in missing if not missing & ORDERED else ():
                gains[part] = gains.get(part, 0.0) + chance / len(missing)
        best = min(gains, key=lambda part: (-gains[part], part), default="")
        if not best or gains[best] < worth * whole:
            break
        carried.append(best)
    return tuple(carried), _covered(needs, carried) / whole


def _covered(needs: Collection[tuple[frozenset[str], float]], carried: Collection[str]) -> float:
    return sum(chance for parts, chance in needs if parts <= set(carried))


def _danger(finding: Finding, evidence: Evidence) -> str:
    """The reading that shows danger, or the dangerous suspect; "" where there is none."""
    said = _says(evidence, DANGERS)
    if said:
        return said
    if OWNER_SAYS not in evidence.states:
        return ""
    suspected = {each.fault: each.chance for each in finding.suspects if each.fault in DANGEROUS}
    likeliest = max(suspected, key=lambda key: (suspected[key], key), default="")
    return likeliest if sum(suspected.values()) >= DANGER_FROM else ""


def _says(evidence: Evidence, answers: Mapping[str, frozenset[str]]) -> str:
    """The first reading that shows one of these answers, "" for none."""
    for key, states in answers.items():
        if sum(evidence.states.get(key, {}).get(state, 0.0) for state in states) >= 0.5:
            return key
    return ""


def _may_start(finding: Finding, evidence: Evidence, read: frozenset[str]) -> bool:
    """Whether an owner may be asked for one start, as far as is known: never after one that made no flame,
    never for a third, never where fuel may lie unburnt."""
    if finding.chamber_first or tried_without_flame(evidence) or _says(evidence, UNBURNT):
        return False
    if not flame_died(evidence):
        return True
    if "fuel_smell" in read and "fuel_smell" not in evidence.states:
        return False
    return STARTS not in read or (evidence.starts_tried is not None and _starts(evidence) < MOST_STARTS)


def _starts(evidence: Evidence) -> float:
    """Starts since it last ran well, with those that this call asked for in vain."""
    in_vain = sum(evidence.repairs.get(key) is Outcome.NO_CHANGE for key in MENDED_BY_OWNERS)
    once_more = evidence.states.get(ONCE_MORE, {}).get(Outcome.NO_CHANGE.value, 0.0)
    return (evidence.starts_tried or 0.0) + in_vain + once_more


def _to_try(finding: Finding, evidence: Evidence, *, may_start: bool, least: float) -> Ending | None:
    """What the owner may put right himself, if it is suspected first and likely enough."""
    for key in MENDED_BY_OWNERS:
        if evidence.repairs.get(key) is Outcome.CURED:
            return Ending(ends=Ends.TRY, fault=key, helped=True)
    if evidence.states.get(ONCE_MORE, {}).get(Outcome.CURED.value):
        return Ending(ends=Ends.TRY, fault=ONCE_MORE, helped=True)
    if not finding.suspects or not may_start:
        return None
    first = finding.suspects[0]
    if (
        finding.stood_long
        and flame_died(evidence)
        and ONCE_MORE not in evidence.states
        and finding.sound >= max(ONCE_MORE_FROM, first.chance)
    ):
        return Ending(ends=Ends.TRY, fault=ONCE_MORE)
    tried = evidence.repairs.get(first.fault) is not None
    if first.fault not in MENDED_BY_OWNERS or tried or first.chance < least:
        return None
    return Ending(ends=Ends.TRY, fault=first.fault)


def _worth_asking(finding: Finding, read: frozenset[str], *, owner_may_mend: bool) -> Step | None:
    """The question likeliest to spare the trip, else the best of the ranking that is worth its minute."""
    answerable = [
        step for step in finding.steps if step.kind is Kind.READING and step.key in ANSWERED_BY_OWNERS - read
    ]
    if owner_may_mend:
        # The first of equals is the best ranked.
        sparing = max(answerable, key=_spares_the_trip, default=None)
        if sparing is not None and _spares_the_trip(sparing) >= SPARES_FROM:
            return sparing
    return next((step for step in answerable if step.saves_minutes > 0.0), None)


def _spares_the_trip(step: Step) -> float:
    """Chance that the answer shows a cause which the owner puts right himself."""
    return sum(
        each.chance * each.leads_chance
        for each in step.outcomes
        if each.leads in MENDED_BY_OWNERS and each.leads_chance >= TRY_AT_THE_END_FROM
    )
