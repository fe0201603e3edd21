"""End a visit; what is entered after that is late until somebody accepts it."""

from __future__ import annotations

from datetime import datetime

from lightoff.ground.ids import time_ordered_id
from lightoff.records import Close, body_of
from lightoff.terms.entry import Entry
from lightoff.work.workshop import Workshop


def close_visit(workshop: Workshop, visit_id: str, now: datetime, *, author: str, randomness: bytes) -> None:
    """End a visit now; one that is closed already stays as it was. Raises NotFound.

    `randomness` is ten fresh random bytes.
    """
    if workshop.book.visit(visit_id).closed_at is not None:
        return
    entry_id = time_ordered_id(now, randomness)
    body = body_of(Close(id=entry_id, closed_at=now))
    workshop.book.keep(
        [Entry(id=entry_id, subject=visit_id, field="close", value=body, author=author, at=now)]
    )
