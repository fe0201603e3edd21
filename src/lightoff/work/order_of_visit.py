"""The order of work of one visit: its procedure, made for this heater, by its parts and findings."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime, timedelta

from lightoff.judging.steps_told import PROCEDURE
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.part import StepDone
from lightoff.terms.visit import Stage, Visit
from lightoff.work.advise_parts import Unit, unit_of
from lightoff.work.order_work import OrderOfWork, compose
from lightoff.work.pieces import Where
from lightoff.work.rated import sheet_of
from lightoff.work.workshop import Workshop

USUAL, WITHOUT_HEAT = "annual_service", "no_heat_call"
RENEWED_LATELY = timedelta(days=180)
"""An annual part younger than this is not due again. Common practice, no source."""
_NO_HEAT = frozenset({"does nothing", "tries without flame", "lights then dies"})


def order_of_visit(workshop: Workshop, case: Case, now: datetime) -> OrderOfWork:
    """The steps of a visit in order. Raises NotFound for a sheet that is not on the shelf."""
    return order_of_case(case, workshop.shelf, unit_of(workshop, case.heater.id, now), now)


def order_of_case(case: Case, shelf: Shelf, unit: Unit, now: datetime) -> OrderOfWork:
    """The same of a case and a unit in hand."""
    visit = case.visit
    complaint = _latest(visit, "owner_says")
    return compose(
        shelf.procedures[procedure_of(visit, shelf.procedures)],
        sheet=sheet_of(case, shelf),
        catalogue=shelf.catalogue,
        kinds={each.kind for each in case.instruments.values() if not each.retired},
        due=due_parts(unit, shelf, visit.started_at),
        complaint=complaint,
        findings={
            **{key: _latest(visit, key) for key in {each.key for each in visit.readings if each.state}},
            **{each.step: each.state or each.outcome.value for each in visit.steps},
        },
        seen=_seen(visit),
        spares={each.part.kind for each in unit.pieces if each.where is Where.SPARE},
    )


def procedure_of(visit: Visit, known: Collection[str]) -> str:
    """The procedure that was chosen; else that for the complaint; else the annual service."""
    chosen = next((each.state for each in visit.steps if each.step == PROCEDURE), "")
    if chosen in known:
        return chosen
    return WITHOUT_HEAT if _latest(visit, "owner_says") in _NO_HEAT else USUAL


def due_parts(unit: Unit, shelf: Shelf, on: datetime) -> frozenset[str]:
    """Annual parts that were not renewed lately before that day."""
    young = {
        each.part.kind
        for each in unit.pieces
        if each.where is Where.FITTED
        and not each.entered_late
        and timedelta() <= on - each.since < RENEWED_LATELY
    }
    return frozenset(key for key, kind in shelf.part_types.items() if kind.annual and key not in young)


def done_of(visit: Visit) -> dict[str, StepDone]:
    """How each step of the visit ended, by its key."""
    return {each.step: each for each in visit.steps}


def _latest(visit: Visit, key: str) -> str:
    """The state that stands: as left before as found, the latest of its stage."""
    states = [each for each in visit.readings if each.key == key and each.state]
    states.sort(key=lambda each: (each.stage is Stage.AS_LEFT, each.id))
    return states[-1].state or "" if states else ""


def _seen(visit: Visit) -> dict[str, frozenset[str]]:
    said: Iterable[tuple[str, str]] = [
        *((each.key, each.state) for each in visit.readings if each.state),
        *((each.step, each.state) for each in visit.steps if each.state),
    ]
    found: dict[str, set[str]] = {}
    for key, state in said:
        found.setdefault(key, set()).add(state)
    return {key: frozenset(states) for key, states in found.items()}
