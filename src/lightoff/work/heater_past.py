"""A visit out of a file, with what the shop's book holds of its heater's past."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from lightoff.ground.errors import NotFound
from lightoff.ground.message import Message, message
from lightoff.judging.assess import with_gate
from lightoff.judging.assessment import Assessment, GateResult, Judgement
from lightoff.terms.case import Case
from lightoff.terms.visit import Visit
from lightoff.work.parts_fitted import with_parts

if TYPE_CHECKING:
    from lightoff.work.workshop import Workshop  # the book is slow to load, and a file alone needs none


def with_past(case: Case, workshop: Workshop) -> Case:
    """The case with the heater's earlier visits as the book holds them, and what read then.

    The pieces that sat in it are the file's; of a file that tells none they are the book's.
    """
    book = workshop.book
    told = replace(
        case,
        history=_earlier(case.visit, workshop),
        instruments={**book.instruments(), **case.instruments},
    )
    return told if told.fitted else with_parts(told, workshop)


def _earlier(visit: Visit, workshop: Workshop) -> tuple[Visit, ...]:
    """What came before the visit: where it stands in the book as there, else by the time it began."""
    try:
        return workshop.book.case(visit.id).history
    except NotFound:
        known = workshop.book.visits_of(visit.heater)
        return tuple(each for each in known if each.started_at < visit.started_at)


def past_not_at_hand(case: Case, earlier_visits: int | None) -> Message | None:
    """What to say of earlier visits that the file counts and that are not at hand; None without any."""
    if earlier_visits is None:
        return None if case.history else message("visit_file.past_not_counted")
    missing = earlier_visits - len(case.history)
    if missing <= 0:
        return None
    return message(f"visit_file.past_missing{'_one' if missing == 1 else ''}", count=missing)


def without_its_past(assessment: Assessment, case: Case, earlier_visits: int | None) -> Assessment:
    """The judgement where earlier visits are missing: never fit, for what they expect may have doubted it."""
    said = past_not_at_hand(case, earlier_visits)
    if said is None:
        return assessment
    return with_gate(assessment, GateResult(gate="earlier visits", judgement=Judgement.NOT_PROVEN, said=said))
