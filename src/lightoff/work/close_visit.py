"""End a visit: its verdict is sealed, and what is entered after that is late until somebody accepts it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from lightoff.ground.errors import NotFound
from lightoff.ground.ids import time_ordered_id
from lightoff.judging.content import sealed_content
from lightoff.records import Close, body_of
from lightoff.terms.case import Case
from lightoff.terms.entry import Entry
from lightoff.work.workshop import Workshop


def close_visit(workshop: Workshop, visit_id: str, now: datetime, *, author: str, randomness: bytes) -> None:
    """End a visit now; one that is closed already stays as it was. Raises NotFound.

    `randomness` is ten fresh random bytes.
    """
    case = workshop.book.case(visit_id)
    if case.visit.closed_at is not None:
        return
    entry_id = time_ordered_id(now, randomness)
    body = body_of(_sealed(workshop, case, entry_id, now))
    workshop.book.keep(
        [Entry(id=entry_id, subject=visit_id, field="close", value=body, author=author, at=now)]
    )


def _sealed(workshop: Workshop, case: Case, entry_id: str, now: datetime) -> Close:
    """The close with the verdict it ends with; without one where the heater's sheet is unknown."""
    closed = replace(case, visit=replace(case.visit, closed_at=now))
    try:
        found = workshop.judged.assessments([closed], workshop.shelf, now)[0].verdict
    except NotFound:
        return Close(id=entry_id, closed_at=now)
    return Close(
        id=entry_id,
        closed_at=now,
        verdict=str(found.verdict),
        stops=found.stops,
        content=sealed_content(closed),
    )
