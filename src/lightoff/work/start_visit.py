"""Open a visit to a heater."""

from __future__ import annotations

from datetime import datetime

from lightoff.ground.ids import time_ordered_id
from lightoff.records import body_of
from lightoff.terms.entry import Entry
from lightoff.terms.visit import Place, Visit
from lightoff.work.workshop import Workshop


def start_visit(
    workshop: Workshop,
    heater_id: str,
    now: datetime,
    *,
    author: str,
    randomness: bytes,
    reason: str = "",
    complaint: str = "",
    fuel: str = "",
    place: Place | None = None,
) -> str:
    """The id of a new visit that starts now and stands in the book. Raises NotFound.

    `randomness` is ten fresh random bytes. Where no fuel or place is given the heater's last ones are
    not taken over: what is burned and where the vehicle stands belongs to the day.
    """
    workshop.book.heater(heater_id)
    visit = Visit(
        id=time_ordered_id(now, randomness),
        heater=heater_id,
        started_at=now,
        technician=author,
        reason=reason,
        complaint=complaint,
        fuel=fuel,
        place=place or Place(),
    )
    workshop.book.keep(
        [Entry(id=visit.id, subject=visit.id, field="visit", value=body_of(visit), author=author, at=now)]
    )
    return visit.id
