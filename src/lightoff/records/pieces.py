"""Questions about pieces that wear: which there are, what happened to them, how far the counters ran."""

from __future__ import annotations

from datetime import datetime
from typing import Any, TypeVar

from sqlalchemy import (
    ColumnElement,
    Connection,
    CursorResult,
    Integer,
    Select,
    String,
    Table,
    Text,
    bindparam,
    cast,
    func,
    literal_column,
    select,
    union_all,
)

from lightoff.ground.values import dataclass
from lightoff.records import tables
from lightoff.records.making import made, many
from lightoff.records.projecting import chunks
from lightoff.terms.part import Bin, Move, Part
from lightoff.terms.trace import Trace
from lightoff.terms.visit import Reading

Noun = TypeVar("Noun")
_OF_ALL = frozenset({"instrument", "shop"})
COUNTERS = ("hour_meter", "starts_count")
MOST_NEWS = 5_000
"""More new entries than this, and it is quicker to look at everything again. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitHead:
    """A visit without what was read on it; `closed_with` is the verdict that was sealed, "" for none."""

    id: str
    heater: str
    started_at: datetime
    service_complete: bool
    closed_at: datetime | None
    closed_with: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """The heaters that entries newer than a mark speak of, and the next mark; None for any of them.

    Of a heater speaks what is said of its vehicle and owner too. `of_all` tells that something was said that
    may speak of them all: an instrument, the shop. What lies in a bin and what the shop reckons with is
    neither.
    """

    mark: int
    heaters: frozenset[str] | None
    of_all: bool = True


_OF_ONE = union_all(
    select(bindparam("heater", type_=String)),
    *(
        select(each.c.id).where(each.c.heater == bindparam("heater"))
        for each in (tables.visit, tables.part, tables.trace)
    ),
)
_SAID_OF = (
    select(tables.entry.c.subject, func.count().label("entries"))
    .where(tables.entry.c.subject.in_(_OF_ONE))
    .group_by(tables.entry.c.subject)
)


Both = tuple[Select[Any], Select[Any]]


def _both(of_all: Select[Any], heater: ColumnElement[str]) -> Both:
    """A question about all heaters, and the same about one."""
    return of_all, of_all.where(heater == bindparam("heater"))


def _asked(connection: Connection, both: Both, heater_id: str | None) -> CursorResult[Any]:
    of_all, of_one = both
    return (
        connection.execute(of_all) if heater_id is None else connection.execute(of_one, {"heater": heater_id})
    )


def _found(
    connection: Connection, noun: type[Noun], table: Table, both: Both, heater_id: str | None
) -> tuple[Noun, ...]:
    return tuple(made(noun, table, row) for row in _asked(connection, both, heater_id).all())


_part, _move, _reading, _trace = tables.part, tables.move, tables.reading, tables.trace
_PARTS = _both(select(_part).order_by(_part.c.id), _part.c.heater)
_MOVES = _both(select(_move).order_by(_move.c.at, _move.c.id), _move.c.heater)
_TRACES = _both(select(_trace).order_by(_trace.c.began_at, _trace.c.id), _trace.c.heater)
_COUNTED = _both(
    select(_reading)
    .where(_reading.c.key.in_(COUNTERS), _reading.c.value.is_not(None))
    .order_by(_reading.c.taken_at, _reading.c.id),
    _reading.c.heater,
)


def parts(connection: Connection, heater_id: str | None) -> tuple[Part, ...]:
    """Pieces of one heater or of all, in the order in which they became known."""
    return _found(connection, Part, tables.part, _PARTS, heater_id)


def moves(connection: Connection, heater_id: str | None) -> tuple[Move, ...]:
    """What happened to them, in order of time."""
    return _found(connection, Move, tables.move, _MOVES, heater_id)


def taken(connection: Connection) -> tuple[Move, ...]:
    """What came out of a bin, in order of time."""
    table = tables.move
    known = select(tables.bin_.c.id)
    return many(
        connection, Move, table, select(table).where(table.c.bin.in_(known)).order_by(table.c.at, table.c.id)
    )


def bins(connection: Connection) -> tuple[Bin, ...]:
    """All bins by place and type."""
    table = tables.bin_
    return many(connection, Bin, table, select(table).order_by(table.c.place, table.c.kind, table.c.id))


def counters(connection: Connection, heater_id: str | None) -> tuple[Reading, ...]:
    """What hour meters and start counters showed, in order of time."""
    return _found(connection, Reading, tables.reading, _COUNTED, heater_id)


def traces(connection: Connection, heater_id: str | None) -> tuple[Trace, ...]:
    """What was found in the logs of one heater or of all, in order of time."""
    return _found(connection, Trace, tables.trace, _TRACES, heater_id)


def _heads() -> Select[Any]:
    visit, close = tables.visit, tables.close
    closed_at = select(func.min(close.c.closed_at)).where(close.c.visit == visit.c.id).scalar_subquery()
    first = close.c.visit == visit.c.id
    sealed = select(close.c.verdict).where(first).order_by(close.c.closed_at).limit(1).scalar_subquery()
    return select(
        *(visit.c.id, visit.c.heater, visit.c.started_at, visit.c.service_complete),
        closed_at.label("closed_at"),
        func.coalesce(sealed, "").label("closed_with"),
    ).order_by(visit.c.started_at, visit.c.id)


_HEADS = _both(_heads(), tables.visit.c.heater)


def visit_heads(connection: Connection, heater_id: str | None) -> tuple[VisitHead, ...]:
    """The visits of one heater or of all without what was read on them, oldest first."""
    return tuple(VisitHead(**row._mapping) for row in _asked(connection, _HEADS, heater_id).all())


def said_of(connection: Connection, heater_id: str) -> frozenset[tuple[str, int]]:
    """How many entries speak of a heater, and of each of its visits, pieces and logs.

    Entries are only ever added, so that while this stands nothing was said.
    """
    rows = connection.execute(_SAID_OF, {"heater": heater_id})
    return frozenset((row.subject, row.entries) for row in rows)


def listed(connection: Connection) -> frozenset[str]:
    """Heaters whose vehicle and owner are known."""
    return frozenset(connection.scalars(select(tables.heater_line.c.heater)))


def witness(connection: Connection, mark: int) -> str:
    """What stands for all that was said up to the mark of earlier news; "" where this book never had it.

    Entries are only ever added, so that while the one at the mark stands, so do all before it.
    """
    entry = tables.entry
    if connection.dialect.name != "sqlite":
        count = int(connection.scalar(select(func.count()).select_from(entry)) or 0)
        return str(connection.scalar(select(func.max(entry.c.id)))) if count == mark else ""
    row = literal_column("entry.rowid", Integer)
    return connection.scalar(select(entry.c.sha256).where(row == mark)) or ""


def said_so_far(connection: Connection) -> str:
    """What stands for all that was said so far: two that are equal saw the same entries.

    A server's is its own snapshot, which any writing changes: to count its entries would cost far more.
    """
    if connection.dialect.name != "sqlite":
        return str(connection.scalar(select(cast(func.pg_current_snapshot(), Text))))
    row = literal_column("entry.rowid", Integer)
    return str(connection.scalar(select(func.max(row)).select_from(tables.entry)))


def news(connection: Connection, since: int) -> News:
    """Which heaters were spoken of since the mark of earlier news; nought for all that was ever said."""
    entry = tables.entry
    if connection.dialect.name != "sqlite":
        count = int(connection.scalar(select(func.count()).select_from(entry)) or 0)
        stands = count == since
        return News(mark=count, heaters=frozenset() if stands else None, of_all=not stands)
    # Entries are only ever added, so that in this database the number of the row tells which are new.
    row = literal_column("entry.rowid", Integer)
    mark = int(connection.scalar(select(func.max(row)).select_from(entry)) or 0)
    if mark == since:
        return News(mark=mark, heaters=frozenset(), of_all=False)
    if not since or mark - since > MOST_NEWS:
        return News(mark=mark, heaters=None)
    told = list(
        connection.execute(select(entry.c.field, entry.c.subject, entry.c.corrects).where(row > since))
    )
    if any(each.field == "part" and each.corrects for each in told):
        return News(mark=mark, heaters=None)  # it may have been another heater's till now
    subjects = {each.subject for each in told}
    heaters = {each.subject for each in told if each.field == "heater"}
    for table in (tables.part, tables.trace, tables.visit):
        for some in chunks(subjects):
            heaters |= set(connection.scalars(select(table.c.heater).where(table.c.id.in_(some))))
    heater, vehicle = tables.heater, tables.vehicle
    kin = heater.join(vehicle, vehicle.c.id == heater.c.vehicle)
    for some in chunks(subjects):
        heaters |= set(connection.scalars(select(heater.c.id).where(heater.c.vehicle.in_(some))))
        owned = select(heater.c.id).select_from(kin).where(vehicle.c.owner.in_(some))
        heaters |= set(connection.scalars(owned))
    of_all = any(each.field in _OF_ALL for each in told)
    return News(mark=mark, heaters=frozenset(heaters), of_all=of_all)
