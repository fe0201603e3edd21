"""Find what ails a heater: the case's readings into evidence, the place into conditions, one pure answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from lightoff.faultfinding import Bank, Evidence, Finding, Outcome, Step, Suspect, bank, find
from lightoff.faultfinding.ages import ages_of
from lightoff.faultfinding.asking import LAST_GOOD_RUN, LAST_WORK, ONCE_MORE, OWNER_SAYS, next_step
from lightoff.faultfinding.telephone import Call, call
from lightoff.ground.message import Amount, Message, message
from lightoff.ground.values import dataclass
from lightoff.plant.conditions import Conditions
from lightoff.records import Derived
from lightoff.shelf import REPAIR, Shelf
from lightoff.terms.case import Case
from lightoff.terms.shelf import Catalogue
from lightoff.terms.visit import NOT_HAD, Reading, Stage
from lightoff.work.case_hash import case_hash
from lightoff.work.last_few import LastFew
from lightoff.work.parts_fitted import with_parts
from lightoff.work.rated import sheet_of
from lightoff.work.read_numbers import conditions_of, latest_readings, numbers_read, told_twice
from lightoff.work.unit_baseline import unit_baseline
from lightoff.work.workshop import Workshop

AREAS = frozenset({"fault finding", "trial", "repair"})
"""Areas of the catalogue that only a search for a fault asks for."""
NOT_SINCE_SERVICE = "not since the service"
_banks: LastFew[Bank] = LastFew(4)


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultCase:
    """A finding with what it was found from. `answers` are the readings that count, in the order they came;
    `next_step` is what is done next."""

    case: Case
    conditions: Conditions
    evidence: Evidence
    answers: tuple[Reading, ...]
    finding: Finding
    next_step: Step

    @property
    def read(self) -> frozenset[str]:
        """Catalogue keys of what was had, or could not be had."""
        return frozenset(each.key for each in self.answers) - self.evidence.told_twice

    @property
    def is_placed(self) -> bool:
        """Whether height and fuel were said, so that neither was taken."""
        return self.case.visit.place.altitude_m == self.conditions.altitude_m and bool(self.case.visit.fuel)

    @property
    def weighed_for(self) -> Message:
        """For which height and fuel the suspects are weighed, and what was taken because nobody said it."""
        visit, height_m = self.case.visit, self.conditions.altitude_m
        height = message("finding.at_height", height=Amount(value=height_m, dimension="length"))
        return message(
            "finding.weighed_for",
            height=height if visit.place.altitude_m == height_m else message("finding.height_unsaid"),
            fuel=f"@fuel.{visit.fuel}" if visit.fuel else message("finding.fuel_unsaid"),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LookedFor:
    """What paper tells of a search: what it rests on, and the chances of the suspects and of soundness."""

    evidence: Evidence
    suspects: tuple[Suspect, ...]  # without their clues
    sound: float
    nothing_fits: bool

    @property
    def told(self) -> frozenset[str]:
        """Keys of what the search itself tells: the owner's words, trials and repairs."""
        tried = (REPAIR + key for key in self.evidence.repairs)
        return frozenset({OWNER_SAYS, LAST_WORK, LAST_GOOD_RUN, ONCE_MORE, *self.evidence.trials, *tried})


def find_fault(workshop: Workshop, visit_id: str, *, pairs: bool = True) -> FaultCase:
    """The finding of a visit in the book. Raises NotFound."""
    return find_in_case(with_parts(workshop.book.case(visit_id), workshop), workshop.shelf, pairs=pairs)


def call_owner(workshop: Workshop, visit_id: str) -> tuple[FaultCase, Call]:
    """The finding, and where the call to the owner stands. Raises NotFound."""
    found = find_fault(workshop, visit_id)
    shelf = workshop.shelf
    answer = call(
        found.finding, found.evidence, read=found.read, catalogue=shelf.catalogue, faults=shelf.faults
    )
    return found, answer


def fault_looked_for(case: Case, shelf: Shelf, derived: Derived | None = None) -> LookedFor | None:
    """The search of a visit on which somebody looked for a fault, else None; kept in `derived`.

    Raises NotFound.
    """
    entries = shelf.catalogue.entries
    read = {each.key for each in case.visit.readings if each.stage is Stage.AS_FOUND}
    if not any(key in entries and entries[key].area in AREAS for key in read):
        return None
    key = f"looked for:{case_hash(case, shelf)}"
    known: LookedFor | None = derived.find([key]).get(key) if derived else None
    if known is not None:
        return known
    found = find_in_case(case, shelf)
    told = LookedFor(
        evidence=found.evidence,
        suspects=tuple(replace(each, speaks_for=(), speaks_against=()) for each in found.finding.suspects),
        sound=found.finding.sound,
        nothing_fits=found.finding.nothing_fits,
    )
    if derived:
        derived.keep({key: told})
    return told


def find_in_case(case: Case, shelf: Shelf, *, pairs: bool = True) -> FaultCase:
    """The finding of a case in hand. Raises NotFound for a sheet that is not on the shelf."""
    conditions, evidence = conditions_of(case, shelf), evidence_of(case, shelf.catalogue)
    classes = frozenset(each.kind for each in case.instruments.values() if not each.retired)
    finding = find(bank_of(case, shelf, conditions), evidence, classes=classes, pairs=pairs)
    latest = latest_readings(case, stage=Stage.AS_FOUND)
    answers = sorted(
        (each for key, each in latest.items() if key in shelf.catalogue.entries), key=lambda each: each.id
    )
    read = frozenset(each.key for each in answers) - evidence.told_twice
    return FaultCase(
        case=case,
        conditions=conditions,
        evidence=evidence,
        answers=tuple(answers),
        finding=finding,
        next_step=next_step(finding, evidence, read, shelf.catalogue),
    )


def bank_of(case: Case, shelf: Shelf, conditions: Conditions) -> Bank:
    """The bank of this heater here and today; the last few are kept."""
    sheet, baseline = sheet_of(case, shelf), unit_baseline(case, shelf)
    learned = (baseline.mean.tobytes(), baseline.covariance.tobytes(), baseline.times.tobytes())
    ages = ages_of(case.fitted, shelf.part_types, shelf.faults)
    return _banks.of(
        (shelf.sha256, sheet.sha256, conditions, learned, tuple(sorted(ages.items()))),
        lambda: bank(
            sheet=sheet,
            conditions=conditions,
            faults=shelf.faults,
            trials=shelf.trials,
            catalogue=shelf.catalogue,
            baseline=baseline,
            ages=ages,
        ),
    )


def evidence_of(case: Case, catalogue: Catalogue) -> Evidence:
    """What was found before the work: the latest as-found reading of each kind, trials and repairs."""
    states: dict[str, Mapping[str, float]] = {}
    tried: dict[str, Outcome] = {}
    repaired: dict[str, Outcome] = {}
    barred: set[str] = set()
    torn = told_twice(case, stage=Stage.AS_FOUND)
    latest = latest_readings(case, stage=Stage.AS_FOUND)
    for key, reading in latest.items():
        entry = catalogue.entries.get(key)
        if entry is None:
            continue
        if reading.not_had:
            barred.add(key)
        elif key.startswith(REPAIR):
            repaired[key.removeprefix(REPAIR)] = Outcome(reading.state or NOT_HAD)
        elif entry.area == "trial":
            tried[key] = Outcome(reading.state or NOT_HAD)
        elif reading.state is not None and reading.state in entry.states:
            told = {each.state for each in torn.get(key, (reading,))}
            states[key] = {state: float(state in told) for state in entry.states}
    if LAST_WORK in catalogue.entries and states.get(LAST_GOOD_RUN, {}).get(NOT_SINCE_SERVICE):
        states[LAST_WORK] = _touched(states.get(LAST_WORK), catalogue)
    return Evidence(
        numbers=numbers_read(case, catalogue, stage=Stage.AS_FOUND),
        states=states,
        trials=tried,
        repairs=repaired,
        not_possible=frozenset(barred),
        told_twice=frozenset(torn) & frozenset(catalogue.entries),
        read_again=frozenset(key for key, reading in latest.items() if reading.confirmed),
        starts_without_flame=_most(latest, torn, "trials_without_flame") or 0.0,
        starts_tried=_most(latest, torn, "starts_tried"),
    )


def _touched(said: Mapping[str, float] | None, catalogue: Catalogue) -> Mapping[str, float]:
    """What was touched last of a heater that ran badly from its service on: something, or what is said.

    That nothing was touched contradicts it: then neither answer tells anything.
    """
    something = {state: float(state != "nothing") for state in catalogue.entries[LAST_WORK].states}
    if said is None:
        return something
    return dict.fromkeys(something, 1.0) if said.get("nothing") else said


def _most(latest: Mapping[str, Reading], torn: Mapping[str, tuple[Reading, ...]], key: str) -> float | None:
    """How often it was started; of two counts the larger, which is the safer."""
    told = torn.get(key, (latest[key],) if key in latest else ())
    return max((float(each.value) for each in told if each.value is not None), default=None)
