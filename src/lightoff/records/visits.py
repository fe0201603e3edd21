"""Visits with their live parts, handed out again as they are while nothing new is said of them.

Whatever speaks of a visit, be it a reading, a correction or the close, is an entry that bears the visit's
id, and entries are only ever added. So while the count of these entries stands the visit stands, and the
very same object serves: in a second look at a heater only what was said since is made anew.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from threading import Lock
from typing import Any

from sqlalchemy import BindParameter, Connection, Row, Select, bindparam, exists, func, select, tuple_

from lightoff.records import tables
from lightoff.records.making import made
from lightoff.records.projecting import chunks
from lightoff.terms.part import Move, StepDone
from lightoff.terms.visit import GROUPED, Event, Photo, Reading, Visit

# The visits of some two hundred heaters; a visit of fifty readings takes some thirty-five kilobytes.
MOST = 1024

_visit = tables.visit
_entries = (
    select(func.count())
    .select_from(tables.entry)
    .where(tables.entry.c.subject == _visit.c.id)
    .correlate(_visit)
    .scalar_subquery()
)
_asked = select(_visit.c.id, _entries.label("entries"))
_this = _visit.alias("this")

ONE = _asked.where(_visit.c.id == bindparam("visit"))
OF_HEATER = _asked.where(_visit.c.heater == bindparam("heater")).order_by(_visit.c.started_at, _visit.c.id)
# A visit and the heater's earlier ones, oldest first.
UP_TO = (
    _asked.join(_this, _this.c.heater == _visit.c.heater)
    .where(
        _this.c.id == bindparam("visit"),
        tuple_(_visit.c.started_at, _visit.c.id) <= tuple_(_this.c.started_at, _this.c.id),
    )
    .order_by(_visit.c.started_at, _visit.c.id)
)
OPEN = (
    _asked.where(~exists().where(tables.close.c.visit == _visit.c.id))
    .order_by(_visit.c.started_at.desc(), _visit.c.id.desc())
    .limit(bindparam("limit"))
)
ALL = _asked


class Remembered:
    """The visits that were made last, each with the count of its entries then. For many threads."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._lock = Lock()
        self._visits: OrderedDict[str, tuple[int, Visit]] = OrderedDict()

    def get(self, visit_id: str, entries: int) -> Visit | None:
        """The visit if as many entries speak of it as when it was made."""
        with self._lock:
            count, visit = self._visits.get(visit_id, (0, None))
            if visit is None or count != entries:
                return None
            self._visits.move_to_end(visit_id)
            return visit

    def put(self, visit: Visit, entries: int) -> None:
        """Remember a visit, and forget the one that was longest unasked for."""
        with self._lock:
            self._visits[visit.id] = (entries, visit)
            self._visits.move_to_end(visit.id)
            while len(self._visits) > self._most:
                self._visits.popitem(last=False)

    def forget(self) -> None:
        """Forget all: the projections were made anew."""
        with self._lock:
            self._visits.clear()


def visits(
    connection: Connection, remembered: Remembered, asked: Select[Any], **bound: object
) -> tuple[Visit, ...]:
    """The visits that one of the questions above finds, each with its live parts, in its order."""
    counts = {row.id: row.entries for row in connection.execute(asked, bound).all()}
    found = {each: remembered.get(each, entries) for each, entries in counts.items()}
    lacking = [each for each, visit in found.items() if visit is None]
    for visit in _made_anew(connection, lacking):
        found[visit.id] = visit
        remembered.put(visit, counts[visit.id])
    return tuple(each for each in found.values() if each is not None)


_THESE: BindParameter[str] = bindparam("these", expanding=True)
_BARE = select(_visit).where(_visit.c.id.in_(_THESE))
_PARTS = tuple(
    (table.name, select(table).where(table.c.visit.in_(_THESE)).order_by(order, table.c.id))
    for table, order in (
        (tables.reading, tables.reading.c.entered_at),
        (tables.event, tables.event.c.at),
        (tables.photo, tables.photo.c.taken_at),
        (tables.move, tables.move.c.at),
        (tables.step, tables.step.c.at),
        (tables.close, tables.close.c.closed_at),
        (tables.accept, tables.accept.c.at),
    )
)


def _made_anew(connection: Connection, ids: Sequence[str]) -> list[Visit]:
    made_anew = []
    for some in chunks(ids):
        parts: dict[str, dict[str, list[Any]]] = {each: {} for each in some}
        for name, of_these in _PARTS:
            for row in connection.execute(of_these, {"these": some}).all():
                parts[row.visit].setdefault(name, []).append(row)
        rows = connection.execute(_BARE, {"these": some})
        made_anew += [_whole(made(Visit, _visit, row), parts[row.id]) for row in rows]
    return made_anew


def _last_words(steps: Iterable[StepDone]) -> tuple[StepDone, ...]:
    """Of each step what was said last, an answer of its own before one given together with others.

    Where answers disagree, that is a conflict beside it, and this only what is shown meanwhile.
    """
    by_weight = sorted(steps, key=lambda each: each.note != GROUPED)
    last = {each.step: each for each in by_weight}
    return tuple(sorted(last.values(), key=lambda each: (each.at, each.id)))


def _whole(bare: Visit, parts: Mapping[str, Sequence[Row[Any]]]) -> Visit:
    accepted_by: dict[str, str] = {}
    for row in parts.get("accept", ()):
        accepted_by.setdefault(row.reading, row.author)
    readings = (made(Reading, tables.reading, row) for row in parts.get("reading", ()))
    closes = parts.get("close", ())
    return replace(
        bare,
        closed_at=closes[0].closed_at if closes else None,  # the earliest: the stricter where two disagree
        sealed_verdict=closes[0].verdict if closes else "",
        sealed_stops=closes[0].stops if closes else (),
        sealed_content=closes[0].content if closes else "",
        readings=tuple(
            replace(each, accepted_by=accepted_by[each.id]) if each.id in accepted_by else each
            for each in readings
        ),
        events=tuple(made(Event, tables.event, row) for row in parts.get("event", ())),
        photos=tuple(made(Photo, tables.photo, row) for row in parts.get("photo", ())),
        moves=tuple(made(Move, tables.move, row) for row in parts.get("move", ())),
        steps=_last_words(made(StepDone, tables.step, row) for row in parts.get("step", ())),
    )
