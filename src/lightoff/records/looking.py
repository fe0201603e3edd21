"""What can be asked of a book: nouns by id, a visit with its live parts, a heater's line, a history."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from types import MappingProxyType
from typing import Any

from sqlalchemy import Connection, Row, Select, Table, bindparam, exists, func, select, tuple_

from lightoff.ground.errors import NotFound
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.records import tables
from lightoff.records.codec import SHOP, noun_of
from lightoff.records.conflicts import conflicts
from lightoff.records.entries import WITHDRAWN, entry_of
from lightoff.records.making import Noun, made, many, names
from lightoff.records.projecting import folded, is_live
from lightoff.records.unchanged import Unchanged
from lightoff.records.visits import ALL, OF_HEATER, ONE, UP_TO, Remembered, visits
from lightoff.terms.case import Case
from lightoff.terms.conflict import Conflict
from lightoff.terms.entry import Entry
from lightoff.terms.people import Heater, Instrument, Owner, Planning, Shop, Vehicle
from lightoff.terms.visit import Visit

_LONGEST_SEARCH = 200


_KIN_NOUNS: tuple[tuple[type, Table], ...] = (
    (Heater, tables.heater),
    (Vehicle, tables.vehicle),
    (Owner, tables.owner),
)
_KIN_COLUMNS = [
    table.c[name].label(f"{table.name}_{name}") for noun, table in _KIN_NOUNS for name in names(noun, table)
]


def _with_kin(query: Select[Any]) -> Select[Any]:
    """A query that has the heater's table, with its vehicle and owner."""
    return (
        query.add_columns(*_KIN_COLUMNS)
        .join(tables.vehicle, tables.vehicle.c.id == tables.heater.c.vehicle)
        .join(tables.owner, tables.owner.c.id == tables.vehicle.c.owner)
    )


_KIN = _with_kin(select().select_from(tables.heater)).where(tables.heater.c.id == bindparam("heater"))
_open = tables.visit.alias("open")
_LINES = _with_kin(
    select(
        tables.heater_line.c.last_visit,
        tables.heater_line.c.last_visit_at,
        tables.heater_line.c.visit_count,
        tables.visit.c.fuel.label("last_fuel"),
        tables.visit.c.place.label("last_place"),
        exists()
        .where(
            _open.c.heater == tables.heater_line.c.heater, ~exists().where(tables.close.c.visit == _open.c.id)
        )
        .label("is_under_way"),
    )
    .join(tables.heater, tables.heater.c.id == tables.heater_line.c.heater)
    .outerjoin(tables.visit, tables.visit.c.id == tables.heater_line.c.last_visit)
)
_LINE = _LINES.where(tables.heater_line.c.heater == bindparam("heater"))
_STANDING = (
    select(tables.entry)
    .where(
        tables.entry.c.subject == bindparam("subject"), tables.entry.c.field == bindparam("field"), is_live()
    )
    .order_by(tables.entry.c.at.desc(), tables.entry.c.id.desc())
)
_SHOP = select(tables.shop).where(tables.shop.c.id == SHOP)
_PLANNING = select(tables.planning).where(tables.planning.c.id == SHOP)
_INSTRUMENTS = select(tables.instrument).order_by(tables.instrument.c.name, tables.instrument.c.id)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeaterLine:
    """One line of the list of heaters; `last_visit_id` and `last_visit_at` are None before the first.

    `last_fuel` and `last_place` are what the last visit said of them, "" where nothing; `is_under_way` where
    nobody closed a visit.
    """

    heater: Heater
    vehicle: Vehicle
    owner: Owner
    last_visit_id: str | None
    last_visit_at: datetime | None
    visit_count: int
    last_fuel: str
    last_place: str
    is_under_way: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryLine:
    """One entry as history shows it. `is_live` says that it counts; `corrected_by` names what replaced it."""

    entry: Entry
    is_live: bool
    corrected_by: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandsAgain:
    """A noun that was withdrawn and stands again: who withdrew it, and whose entry took that back."""

    subject: str
    withdrawn_by: str
    withdrawn_at: datetime
    stands_by: str
    stands_at: datetime


def by_id(connection: Connection, noun: type[Noun], table: Table, *, id: str) -> Noun:  # noqa: A002
    """One noun. Raises NotFound."""
    row = connection.execute(select(table).where(table.c.id == id)).one_or_none()
    if row is None:
        raise NotFound(message("records.not_found", noun=table.name, id=id[:100]))
    return made(noun, table, row)


def shop(connection: Connection) -> Shop:
    """The shop; a nameless one until somebody named it."""
    row = connection.execute(_SHOP).one_or_none()
    return Shop() if row is None else made(Shop, tables.shop, row)


def planning(connection: Connection) -> Planning:
    """What the shop reckons with; the stated judgement until somebody set it."""
    row = connection.execute(_PLANNING).one_or_none()
    return Planning() if row is None else made(Planning, tables.planning, row)


def instruments(connection: Connection) -> Mapping[str, Instrument]:
    """All instruments by id, retired ones too, in the order of their names."""
    found = many(connection, Instrument, tables.instrument, _INSTRUMENTS)
    return MappingProxyType({each.id: each for each in found})


def visit(connection: Connection, remembered: Remembered, visit_id: str) -> Visit:
    """One visit with its live parts. Raises NotFound."""
    found = visits(connection, remembered, ONE, visit=visit_id)
    if not found:
        raise NotFound(message("records.not_found", noun="visit", id=visit_id[:100]))
    return found[0]


def case(connection: Connection, remembered: Remembered, unchanged: Unchanged, visit_id: str) -> Case:
    """A visit with the nouns around it and the heater's earlier visits. Raises NotFound."""
    found = visits(connection, remembered, UP_TO, visit=visit_id)
    if not found:
        raise NotFound(message("records.not_found", noun="visit", id=visit_id[:100]))
    return _cases(connection, unchanged, found, latest=1)[-1]


def cases_of(
    connection: Connection, remembered: Remembered, unchanged: Unchanged, heater_id: str, *, latest: int
) -> tuple[Case, ...]:
    """The cases of a heater's `latest` visits, oldest first, each with all visits before it."""
    found = visits(connection, remembered, OF_HEATER, heater=heater_id)
    return _cases(connection, unchanged, found, latest=latest) if found else ()


def _cases(
    connection: Connection, unchanged: Unchanged, found: Sequence[Visit], *, latest: int
) -> tuple[Case, ...]:
    """The cases of the last of a heater's visits; nothing later than a visit is in its case."""
    heater, vehicle, owner = _kin(connection, found[0].heater)
    meters = unchanged.answer(connection, instruments)
    subjects = (SHOP, owner.id, vehicle.id, heater.id, *meters, *(each.id for each in found))
    contradictory = conflicts(connection, subjects, found)
    told = unchanged.answer(connection, shop)
    cases = []
    for index in range(max(0, len(found) - latest), len(found)):
        later = {each.id for each in found[index + 1 :]}
        cases.append(
            Case(
                visit=found[index],
                heater=heater,
                vehicle=vehicle,
                owner=owner,
                instruments=meters,
                history=tuple(found[:index]),
                shop=told,
                conflicts=tuple(each for each in contradictory if each.subject not in later),
            )
        )
    return tuple(cases)


def _kin(connection: Connection, heater_id: str) -> tuple[Heater, Vehicle, Owner]:
    """A heater with its vehicle and owner. Raises NotFound."""
    row = connection.execute(_KIN, {"heater": heater_id}).one_or_none()
    if row is not None:
        return _kin_of(row)
    heater = by_id(connection, Heater, tables.heater, id=heater_id)
    vehicle = by_id(connection, Vehicle, tables.vehicle, id=heater.vehicle)
    return heater, vehicle, by_id(connection, Owner, tables.owner, id=vehicle.owner)


def conflicts_of(connection: Connection, subjects: Sequence[str] | None) -> tuple[Conflict, ...]:
    """What contradicts itself among these subjects; in the whole book where `subjects` is None."""
    asked = ALL if subjects is None else ALL.where(tables.visit.c.id.in_(subjects))
    return conflicts(connection, subjects, visits(connection, Remembered(0), asked))


def standing(connection: Connection, field: str, subject: str) -> tuple[Entry, ...]:
    """The live entries that say what a noun is shown as, latest first; one, or several that say the same."""
    rows = connection.execute(_STANDING, {"subject": subject, "field": field})
    live = [entry_of(row) for row in rows]
    said = [noun_of(field, subject, each.value) for each in live]
    return tuple(each for each, noun in zip(live, said, strict=True) if noun == said[0])


def search(connection: Connection, text: str, *, limit: int, after: str | None) -> tuple[HeaterLine, ...]:
    """Heaters whose line holds every word: never visited first, then by latest visit.

    `after` is the id of the last heater of the page before.
    """
    line = tables.heater_line
    found = _LINES
    for word in folded(text[:_LONGEST_SEARCH]).split():
        found = found.where(line.c.search_text.contains(word, autoescape=True))
    if after is not None:
        last = select(line.c.sort_at, line.c.heater).where(line.c.heater == after)
        found = found.where(tuple_(line.c.sort_at, line.c.heater) < last.scalar_subquery())
    found = found.order_by(line.c.sort_at.desc(), line.c.heater.desc()).limit(limit)
    return tuple(_line(row) for row in connection.execute(found))


def line_of(connection: Connection, heater_id: str) -> HeaterLine:
    """The line of one heater. Raises NotFound."""
    row = connection.execute(_LINE, {"heater": heater_id}).one_or_none()
    if row is None:
        raise NotFound(message("records.not_found", noun="heater", id=heater_id[:100]))
    return _line(row)


def _line(row: Row[Any]) -> HeaterLine:
    heater, vehicle, owner = _kin_of(row)
    return HeaterLine(
        heater=heater,
        vehicle=vehicle,
        owner=owner,
        last_visit_id=row.last_visit,
        last_visit_at=row.last_visit_at,
        visit_count=row.visit_count,
        last_fuel=row.last_fuel or "",
        last_place=row.last_place.name if row.last_place else "",
        is_under_way=bool(row.is_under_way),
    )


def _kin_of(row: Row[Any]) -> tuple[Heater, Vehicle, Owner]:
    told = row._mapping
    heater, vehicle, owner = (
        noun(**{name: told[f"{table.name}_{name}"] for name in names(noun, table)})
        for noun, table in _KIN_NOUNS
    )
    return heater, vehicle, owner


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


_BACK = tables.entry.alias()
_STANDS_AGAIN = (
    select(
        tables.entry.c.subject,
        tables.entry.c.author.label("withdrawn_by"),
        tables.entry.c.at.label("withdrawn_at"),
        _BACK.c.author.label("stands_by"),
        _BACK.c.at.label("stands_at"),
    )
    .join(_BACK, (_BACK.c.corrects == tables.entry.c.id) & (_BACK.c.value != WITHDRAWN))
    .where(
        tables.entry.c.subject.in_(bindparam("subjects", expanding=True)),
        tables.entry.c.field == bindparam("field"),
        tables.entry.c.value == WITHDRAWN,
    )
    .order_by(_BACK.c.at, _BACK.c.id)
)


def standing_again(connection: Connection, field: str, subjects: Sequence[str]) -> Mapping[str, StandsAgain]:
    """Of these subjects those that were withdrawn and stand again, each as the last time."""
    rows = connection.execute(_STANDS_AGAIN, {"subjects": list(subjects), "field": field})
    return {row.subject: StandsAgain(**row._mapping) for row in rows}


def count(connection: Connection, table: Table) -> int:
    """How many rows a table has."""
    return connection.scalar(select(func.count()).select_from(table)) or 0
