"""Open a visit to a heater, and take it back where it was begun by mistake."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime

from lightoff.ground.errors import NotFound, Refusal
from lightoff.ground.ids import time_ordered_id
from lightoff.ground.message import message
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
    utc_offset_minutes: int | None = None,
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
        utc_offset_minutes=utc_offset_minutes,
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


_RECORDED = frozenset({"reading", "event", "photo", "move", "step"})


def is_bare(visit: Visit) -> bool:
    """Whether nothing was recorded in a visit, so that it can be taken back."""
    recorded = (visit.readings, visit.events, visit.photos, visit.moves, visit.steps, visit.note)
    return visit.closed_at is None and not any(recorded)


def take_back_visit(
    workshop: Workshop, visit_id: str, now: datetime, *, author: str, new_id: Callable[[datetime], str]
) -> str:
    """Withdraw a visit in which nothing was recorded; the id of its heater. The book keeps that it was begun.

    `new_id` makes a fresh id for a moment. Raises NotFound; Refusal once anything stands in it.
    """
    visit = workshop.book.visit(visit_id)
    if not is_bare(visit):
        raise Refusal(message("web_error.visit_not_bare"), field="visit")
    workshop.book.keep(
        [
            Entry(
                id=new_id(now),
                subject=visit_id,
                field="visit",
                value=None,
                author=author,
                at=now,
                corrects=standing.id,
            )
            for standing in workshop.book.standing("visit", visit_id)
        ]
    )
    return visit.heater


def bring_back_visits(
    workshop: Workshop, sent: Iterable[Entry], now: datetime, *, new_id: Callable[[datetime], str]
) -> None:
    """A visit that was taken back stands again once another phone sends what was recorded in it.

    `sent` are entries that the book has by now; `new_id` makes a fresh id for a moment.
    """
    recorded = (each for each in sent if each.field in _RECORDED and each.value is not None)
    for subject, author in {each.subject: each.author for each in recorded}.items():
        try:
            workshop.book.visit(subject)
        except NotFound:
            told = (each for each in workshop.book.history(subject) if not each.corrected_by)
            workshop.book.keep(
                [
                    workshop.book.undoing(each.entry.id, id=new_id(now), author=author, at=now)
                    for each in told
                    if each.entry.field == "visit" and each.entry.value is None
                ]
            )
