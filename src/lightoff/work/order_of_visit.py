"""The order of work of one visit: its procedure, made for this heater, by its parts and findings."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from lightoff.ground.message import DayOf, Message, message
from lightoff.judging.steps_told import PROCEDURE
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.part import StepDone
from lightoff.terms.people import Planning
from lightoff.terms.visit import Reading, Stage, Visit
from lightoff.work.order_work import OrderOfWork, compose
from lightoff.work.part_lines import newest_of
from lightoff.work.pieces import Where
from lightoff.work.rated import sheet_of

if TYPE_CHECKING:  # with it comes the book, which a visit file does without
    from lightoff.work.units import Unit

USUAL, WITHOUT_HEAT, NEW = "annual_service", "no_heat_call", "commissioning"
BEFORE_THE_SEASON, INTO_STORAGE, OUT_OF_STORAGE = (
    "pre_season_check",
    "winter_decommissioning",
    "after_storage_start",
)
SERVICE_HOLDS = timedelta(days=270)
"""A complete service younger than this is not due again. Common practice, no source."""
NEWLY_FITTED = timedelta(days=60)
"""A heater fitted so lately and never visited is new. Common practice, no source."""
STORING_MONTHS = 3
"""A heater is laid up in so many months, the last of them the one in which the shop has spring: March to May
where that is May, north of the equator. Common practice, no source."""
RENEWED_LATELY = timedelta(days=180)
"""An annual part younger than this is not due again. Common practice, no source."""
_NO_HEAT = frozenset({"does nothing", "tries without flame", "lights then dies"})


def order_of_case(case: Case, shelf: Shelf, unit: Unit, *, planning: Planning) -> OrderOfWork:
    """The steps of a visit in order; `planning` says when the shop's season ends.

    Raises NotFound for a sheet that is not on the shelf.
    """
    due = due_parts(unit, shelf, case.visit.started_at)
    return _composed(case, shelf, planning, due=due, spares=_kinds_of_spares(unit, shelf))


def unanswered(case: Case, shelf: Shelf, *, planning: Planning) -> tuple[str, ...]:
    """Steps of the order that nobody may leave out, and that have neither an answer nor a reading.

    None where no step was answered at all, when nobody followed the order, nor for a sheet that is not on the
    shelf, which has none.
    """
    visit = case.visit
    answered = done_of(visit).keys() - {PROCEDURE}
    if not answered or case.heater.sheet not in shelf.sheets:
        return ()
    read = {(each.key, each.stage) for each in visit.readings}
    return tuple(
        each.step.key
        for each in _composed(case, shelf, planning).steps  # no part that is due takes a required step away
        if each.step.required
        and each.step.key not in answered
        and not any((reading.key, reading.stage) in read for reading in each.step.readings)
    )


def _composed(
    case: Case,
    shelf: Shelf,
    planning: Planning,
    *,
    due: Collection[str] = (),
    spares: Collection[str] = (),
) -> OrderOfWork:
    visit = case.visit
    complaint = _latest(visit, "owner_says")
    return compose(
        shelf.procedures[procedure_for(case, shelf.procedures, planning=planning)[0]],
        sheet=sheet_of(case, shelf),
        catalogue=shelf.catalogue,
        kinds={each.kind for each in case.instruments.values() if not each.retired},
        due=due,
        complaint=complaint,
        findings={
            **{key: _latest(visit, key) for key in {each.key for each in visit.readings if each.state}},
            **{each.step: each.state or each.outcome.value for each in visit.steps},
        },
        disputed=_disputed(case),
        seen=_seen(visit),
        spares=spares,
    )


def procedure_for(case: Case, known: Collection[str], *, planning: Planning) -> tuple[str, Message]:
    """The procedure that a visit follows, and why.

    The one that somebody chose; else by what the owner says, whether the heater is new, how it was laid up,
    and, while the last complete service is young, by the season; else the annual service.
    """
    visit, day = case.visit, case.visit.day_of(case.visit.started_at)
    says = _latest(visit, "owner_says")
    last = case.history[-1] if case.history else None
    chosen = _chosen(visit)
    if chosen in known:
        return chosen, message("procedure_why.chosen")
    if says in _NO_HEAT:
        return WITHOUT_HEAT, message("procedure_why.complaint", complaint=_state(says))
    if last is None and _is_new(case.heater.fitted_on, day):
        return NEW, message("procedure_why.new")
    if last is not None and _chosen(last) == INTO_STORAGE:
        return OUT_OF_STORAGE, message("procedure_why.stored", day=DayOf(last.started_at))
    served = max((each.started_at for each in case.history if each.service_complete), default=None)
    if served is None:
        return USUAL, message("procedure_why.first" if last is None else "procedure_why.never")
    if visit.started_at - served < SERVICE_HOLDS:
        if (planning.spring_month - day.month) % 12 < STORING_MONTHS:
            return INTO_STORAGE, message("procedure_why.storing", day=DayOf(served))
        return BEFORE_THE_SEASON, message("procedure_why.young", day=DayOf(served))
    return USUAL, message("procedure_why.last", day=DayOf(served))


def _chosen(visit: Visit) -> str:
    return next((each.state for each in visit.steps if each.step == PROCEDURE), "")


def _is_new(fitted_on: date | None, day: date) -> bool:
    return fitted_on is not None and timedelta() <= day - fitted_on <= NEWLY_FITTED


def _state(state: str) -> str:
    return f"@state.{state.replace(' ', '_')}"


def _kinds_of_spares(unit: Unit, shelf: Shelf) -> frozenset[str]:
    """The part types of which the vehicle carries a piece, by their old names too."""
    carried = {each.part.kind for each in unit.pieces if each.where is Where.SPARE}
    return frozenset(key for key in shelf.part_types if newest_of(key, shelf.part_types) in carried)


def due_parts(unit: Unit, shelf: Shelf, on: datetime) -> frozenset[str]:
    """Annual parts that were not renewed lately before that day."""
    young = {
        each.part.kind
        for each in unit.pieces
        if each.where is Where.FITTED
        and not each.entered_late
        and timedelta() <= on - each.since < RENEWED_LATELY
    }
    kinds = shelf.part_types
    return frozenset(key for key, kind in kinds.items() if kind.annual and newest_of(key, kinds) not in young)


def done_of(visit: Visit) -> dict[str, StepDone]:
    """How each step of the visit ended, by its key."""
    return {each.step: each for each in visit.steps}


def _latest(visit: Visit, key: str) -> str:
    """The state that stands: as left before as found, the latest of its stage."""
    states = [each for each in visit.readings if each.key == key and each.state]
    states.sort(key=lambda each: (each.stage is Stage.AS_LEFT, each.id))
    return states[-1].state or "" if states else ""


def _disputed(case: Case) -> dict[str, set[str]]:
    """What entries that contradict each other say of one reading or step of this visit."""
    found: dict[str, set[str]] = {}
    for conflict in case.conflicts:
        for each in conflict.candidates if conflict.subject == case.visit.id else ():
            if isinstance(each.says, Reading) and each.says.state:
                found.setdefault(each.says.key, set()).add(each.says.state)
            if isinstance(each.says, StepDone) and each.says.state:
                found.setdefault(each.says.step, set()).add(each.says.state)
    return found


def _seen(visit: Visit) -> dict[str, frozenset[str]]:
    said: Iterable[tuple[str, str]] = [
        *((each.key, each.state) for each in visit.readings if each.state),
        *((each.step, each.state) for each in visit.steps if each.state),
    ]
    found: dict[str, set[str]] = {}
    for key, state in said:
        found.setdefault(key, set()).add(state)
    return {key: frozenset(states) for key, states in found.items()}
