"""What can be asked of a book: nouns by id, a visit with its live parts, a heater's line, a history."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime
from functools import cache
from typing import Any, TypeVar

from sqlalchemy import Connection, Row, Select, Table, and_, exists, func, or_, select, tuple_

from lightoff.ground.errors import NotFound
from lightoff.ground.message import message
from lightoff.records import tables
from lightoff.records.codec import SHOP, noun_of
from lightoff.records.conflicts import conflicts
from lightoff.records.entries import entry_of
from lightoff.records.projecting import chunks, folded, is_live
from lightoff.terms.case import Case
from lightoff.terms.conflict import Conflict
from lightoff.terms.entry import Entry
from lightoff.terms.people import Heater, Instrument, Owner, Shop, Vehicle
from lightoff.terms.visit import Event, Photo, Reading, Visit

Noun = TypeVar("Noun")
_LONGEST_SEARCH = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class HeaterLine:
    """One line of the list of heaters; `last_visit_id` and `last_visit_at` are None before the first."""

    heater: Heater
    vehicle: Vehicle
    owner: Owner
    last_visit_id: str | None
    last_visit_at: datetime | None
    visit_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryLine:
    """One entry as history shows it. `is_live` says that it counts; `corrected_by` names what replaced it."""

    entry: Entry
    is_live: bool
    corrected_by: tuple[str, ...]


@cache
def _names(noun: type, table: Table) -> tuple[str, ...]:
    return tuple(each.name for each in fields(noun) if each.name in table.c)


def _made(noun: type[Noun], table: Table, row: Row[Any], *, prefix: str = "") -> Noun:
    told = row._mapping
    kind: type = noun
    return noun(**{name: told[prefix + name] for name in _names(kind, table)})


def by_id(connection: Connection, noun: type[Noun], table: Table, *, id: str) -> Noun:  # noqa: A002
    """One noun. Raises NotFound."""
    row = connection.execute(select(table).where(table.c.id == id)).one_or_none()
    if row is None:
        raise NotFound(message("records.not_found", noun=table.name, id=id[:100]))
    return _made(noun, table, row)


def many(connection: Connection, noun: type[Noun], table: Table, query: Select[Any]) -> tuple[Noun, ...]:
    """All nouns that a query of its table finds, in the query's order."""
    return tuple(_made(noun, table, row) for row in connection.execute(query))


def shop(connection: Connection) -> Shop:
    """The shop; a nameless one until somebody named it."""
    row = connection.execute(select(tables.shop).where(tables.shop.c.id == SHOP)).one_or_none()
    return Shop() if row is None else _made(Shop, tables.shop, row)


def instruments(connection: Connection) -> Mapping[str, Instrument]:
    """All instruments by id, retired ones too, in the order of their names."""
    table = tables.instrument
    found = many(connection, Instrument, table, select(table).order_by(table.c.name, table.c.id))
    return {each.id: each for each in found}


def visits(connection: Connection, query: Select[Any]) -> tuple[Visit, ...]:
    """The visits that a query of the visit table finds, each with its live parts, in the query's order."""
    bare = many(connection, Visit, tables.visit, query)
    parts: dict[str, dict[str, list[Any]]] = {each.id: {} for each in bare}
    for some in chunks(parts):
        for table, order in _PARTS:
            found = select(table).where(table.c.visit.in_(some)).order_by(order, table.c.id)
            for row in connection.execute(found):
                parts[row.visit].setdefault(table.name, []).append(row)
    return tuple(_whole(each, parts[each.id]) for each in bare)


_PARTS = (
    (tables.reading, tables.reading.c.entered_at),
    (tables.event, tables.event.c.at),
    (tables.photo, tables.photo.c.taken_at),
    (tables.close, tables.close.c.closed_at),
    (tables.accept, tables.accept.c.at),
)


def _whole(bare: Visit, parts: Mapping[str, Sequence[Row[Any]]]) -> Visit:
    accepted_by: dict[str, str] = {}
    for row in parts.get("accept", ()):
        accepted_by.setdefault(row.reading, row.author)
    readings = (_made(Reading, tables.reading, row) for row in parts.get("reading", ()))
    closes = parts.get("close", ())
    return replace(
        bare,
        closed_at=closes[0].closed_at if closes else None,  # the earliest: the stricter where two disagree
        readings=tuple(
            replace(each, accepted_by=accepted_by[each.id]) if each.id in accepted_by else each
            for each in readings
        ),
        events=tuple(_made(Event, tables.event, row) for row in parts.get("event", ())),
        photos=tuple(_made(Photo, tables.photo, row) for row in parts.get("photo", ())),
    )


def visit(connection: Connection, visit_id: str) -> Visit:
    """One visit with its live parts. Raises NotFound."""
    found = visits(connection, select(tables.visit).where(tables.visit.c.id == visit_id))
    if not found:
        raise NotFound(message("records.not_found", noun="visit", id=visit_id[:100]))
    return found[0]


def visits_of(connection: Connection, heater_id: str) -> tuple[Visit, ...]:
    """A heater's visits, oldest first."""
    table = tables.visit
    return visits(
        connection, select(table).where(table.c.heater == heater_id).order_by(table.c.started_at, table.c.id)
    )


def open_visits(connection: Connection, limit: int) -> tuple[Visit, ...]:
    """Visits that nobody closed, latest first."""
    table = tables.visit
    is_closed = exists().where(tables.close.c.visit == table.c.id)
    latest = table.c.started_at.desc(), table.c.id.desc()
    return visits(connection, select(table).where(~is_closed).order_by(*latest).limit(limit))


def case(connection: Connection, visit_id: str) -> Case:
    """A visit with the nouns around it and the heater's earlier visits. Raises NotFound."""
    this = visit(connection, visit_id)
    heater = by_id(connection, Heater, tables.heater, id=this.heater)
    vehicle = by_id(connection, Vehicle, tables.vehicle, id=heater.vehicle)
    table = tables.visit
    earlier = or_(
        table.c.started_at < this.started_at,
        and_(table.c.started_at == this.started_at, table.c.id < this.id),
    )
    before = select(table).where(table.c.heater == heater.id, earlier)
    history = visits(connection, before.order_by(table.c.started_at, table.c.id))
    meters = instruments(connection)
    named = (SHOP, vehicle.owner, vehicle.id, heater.id, this.id)
    subjects = (*named, *meters, *(each.id for each in history))
    return Case(
        visit=this,
        heater=heater,
        vehicle=vehicle,
        owner=by_id(connection, Owner, tables.owner, id=vehicle.owner),
        instruments=meters,
        history=history,
        shop=shop(connection),
        conflicts=conflicts(connection, subjects, (*history, this)),
    )


def conflicts_of(connection: Connection, subjects: Sequence[str] | None) -> tuple[Conflict, ...]:
    """What contradicts itself among these subjects; in the whole book where `subjects` is None."""
    query = select(tables.visit)
    if subjects is not None:
        query = query.where(tables.visit.c.id.in_(subjects))
    return conflicts(connection, subjects, visits(connection, query))


def standing(connection: Connection, field: str, subject: str) -> tuple[Entry, ...]:
    """The live entries that say what a noun is shown as, latest first; one, or several that say the same."""
    table = tables.entry
    found = select(table).where(table.c.subject == subject, table.c.field == field, is_live())
    live = [entry_of(row) for row in connection.execute(found.order_by(table.c.at.desc(), table.c.id.desc()))]
    said = [noun_of(field, subject, each.value) for each in live]
    return tuple(each for each, noun in zip(live, said, strict=True) if noun == said[0])


def search(connection: Connection, text: str, *, limit: int, after: str | None) -> tuple[HeaterLine, ...]:
    """Heaters whose line holds every word: never visited first, then by latest visit.

    `after` is the id of the last heater of the page before.
    """
    line = tables.heater_line
    found = _joined_lines()
    for word in folded(text[:_LONGEST_SEARCH]).split():
        found = found.where(line.c.search_text.contains(word, autoescape=True))
    if after is not None:
        last = select(line.c.sort_at, line.c.heater).where(line.c.heater == after)
        found = found.where(tuple_(line.c.sort_at, line.c.heater) < last.scalar_subquery())
    found = found.order_by(line.c.sort_at.desc(), line.c.heater.desc()).limit(limit)
    return tuple(_line(row) for row in connection.execute(found))


def line_of(connection: Connection, heater_id: str) -> HeaterLine:
    """The line of one heater. Raises NotFound."""
    row = connection.execute(_joined_lines().where(tables.heater_line.c.heater == heater_id)).one_or_none()
    if row is None:
        raise NotFound(message("records.not_found", noun="heater", id=heater_id[:100]))
    return _line(row)


_LINE_NOUNS: tuple[tuple[type, Table], ...] = (
    (Heater, tables.heater),
    (Vehicle, tables.vehicle),
    (Owner, tables.owner),
)


def _joined_lines() -> Select[Any]:
    line = tables.heater_line
    labelled = [
        table.c[name].label(f"{table.name}_{name}")
        for noun, table in _LINE_NOUNS
        for name in _names(noun, table)
    ]
    return (
        select(line.c.last_visit, line.c.last_visit_at, line.c.visit_count, *labelled)
        .join_from(line, tables.heater, tables.heater.c.id == line.c.heater)
        .join(tables.vehicle, tables.vehicle.c.id == tables.heater.c.vehicle)
        .join(tables.owner, tables.owner.c.id == tables.vehicle.c.owner)
    )


def _line(row: Row[Any]) -> HeaterLine:
    return HeaterLine(
        heater=_made(Heater, tables.heater, row, prefix="heater_"),
        vehicle=_made(Vehicle, tables.vehicle, row, prefix="vehicle_"),
        owner=_made(Owner, tables.owner, row, prefix="owner_"),
        last_visit_id=row.last_visit,
        last_visit_at=row.last_visit_at,
        visit_count=row.visit_count,
    )


def entries(connection: Connection, subject: str) -> tuple[Entry, ...]:
    """All entries that speak of a subject, oldest first."""
    table = tables.entry
    found = select(table).where(table.c.subject == subject).order_by(table.c.at, table.c.id)
    return tuple(entry_of(row) for row in connection.execute(found))


def entry(connection: Connection, entry_id: str) -> Entry:
    """One entry. Raises NotFound."""
    row = connection.execute(select(tables.entry).where(tables.entry.c.id == entry_id)).one_or_none()
    if row is None:
        raise NotFound(message("records.not_found", noun="entry", id=entry_id[:100]))
    return entry_of(row)


def history(connection: Connection, subject: str) -> tuple[HistoryLine, ...]:
    """All entries that speak of a subject, newest first, with what became of each."""
    table = tables.entry
    found = select(table, is_live().label("live")).where(table.c.subject == subject)
    rows = connection.execute(found.order_by(table.c.at.desc(), table.c.id.desc())).all()
    kinds = {row.id: row.field for row in rows}
    by: dict[str, list[str]] = {}
    for row in reversed(rows):
        if row.corrects and kinds.get(row.corrects) == row.field:
            by.setdefault(row.corrects, []).append(row.id)
    return tuple(
        HistoryLine(entry=entry_of(row), is_live=bool(row.live), corrected_by=tuple(by.get(row.id, ())))
        for row in rows
    )


def count(connection: Connection, table: Table) -> int:
    """How many rows a table has."""
    return connection.scalar(select(func.count()).select_from(table)) or 0
