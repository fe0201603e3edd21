"""From entries to projections: the same tables whatever the order in which entries arrived.

An entry is *live* when no other entry of its subject and field corrects it and it is no withdrawal.
A part of a visit (reading, event, photo, close, accept) has one row for each live entry: two corrections
of one reading, made on two devices, both stand and can be seen to disagree. Any other noun has one row,
from its latest live entry by time and then by id.
"""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields
from datetime import UTC, datetime
from functools import cache
from itertools import groupby
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Table, and_, delete, exists, insert, select

from lightoff.records.codec import noun_of
from lightoff.records.entries import WITHDRAWN
from lightoff.records.tables import (
    NOUN_TABLES,
    PART_TABLES,
    PROJECTIONS,
    entry,
    heater,
    heater_line,
    owner,
    vehicle,
    visit,
)

CHUNK = 500
NEVER_VISITED = datetime(9999, 1, 1, tzinfo=UTC)  # sorts a heater that still waits for its first visit on top
_by = entry.alias("by")


def chunks(ids: Iterable[str]) -> Iterator[Sequence[str]]:
    """The ids, as many at a time as one statement names."""
    ordered = sorted(set(ids))
    for start in range(0, len(ordered), CHUNK):
        yield ordered[start : start + CHUNK]


def is_corrected() -> ColumnElement[bool]:
    """Whether an entry of the same subject and field corrects the `entry` at hand."""
    same = and_(_by.c.corrects == entry.c.id, _by.c.subject == entry.c.subject, _by.c.field == entry.c.field)
    return exists().where(same)


def is_live() -> ColumnElement[bool]:
    """Whether the `entry` at hand counts."""
    return and_(entry.c.value != WITHDRAWN, ~is_corrected())


def project(connection: Connection, ids: Iterable[str]) -> None:
    """Bring the projections up to date with these entries, just written."""
    ids = list(ids)
    affected = set(ids)
    subjects: dict[str, set[str]] = {}
    for some in chunks(ids):
        known = select(entry.c.subject, entry.c.field, entry.c.corrects).where(entry.c.id.in_(some))
        for row in connection.execute(known):
            if row.field in NOUN_TABLES:
                subjects.setdefault(row.field, set()).add(row.subject)
            elif row.corrects:
                affected.add(row.corrects)
    _project_parts(connection, affected)
    touched: set[str] = set()
    for field in NOUN_TABLES:
        if field in subjects:
            touched |= _project_nouns(connection, field, subjects[field])
    _project_lines(connection, touched)


def rebuild(connection: Connection) -> None:
    """Make all projections anew from the entries alone."""
    for table in PROJECTIONS:
        connection.execute(delete(table))
    after = ""
    while True:
        some = connection.scalars(
            select(entry.c.id).where(entry.c.id > after).order_by(entry.c.id).limit(10 * CHUNK)
        ).all()
        if not some:
            return
        project(connection, some)
        after = some[-1]


def _project_parts(connection: Connection, ids: Iterable[str]) -> None:
    for some in chunks(ids):
        rows = connection.execute(
            select(entry, is_live().label("live"))
            .where(entry.c.id.in_(some), entry.c.field.in_(PART_TABLES))
            .order_by(entry.c.field)
        )
        for field, group in groupby(rows, key=lambda row: row.field):
            table, members = PART_TABLES[field], list(group)
            connection.execute(delete(table).where(table.c.id.in_([row.id for row in members])))
            if living := [part_row(row) for row in members if row.live]:
                connection.execute(insert(table), living)


def part_row(row: Row[Any]) -> dict[str, Any]:
    """The row that a part of a visit has in its table, from its entry."""
    noun = noun_of(row.field, row.id, json.loads(row.value))
    values = _columns(PART_TABLES[row.field], noun) | {"id": row.id, "visit": row.subject}
    if row.field == "reading":
        values |= {"entered_at": row.at, "corrects": row.corrects}
    if row.field == "accept":
        values |= {"author": row.author, "at": row.at}
    return values


@cache
def _shared_names(noun: type, table: Table) -> tuple[str, ...]:
    return tuple(each.name for each in fields(noun) if each.name in table.c)


def _columns(table: Table, noun: object) -> dict[str, Any]:
    kind: type = type(noun)
    return {name: getattr(noun, name) for name in _shared_names(kind, table)}


def _project_nouns(connection: Connection, field: str, subjects: set[str]) -> set[str]:
    """Renew the rows of these subjects; returns the heaters whose line may have changed by it."""
    table = NOUN_TABLES[field]
    touched: set[str] = set()
    for some in chunks(subjects):
        touched |= _heaters_of(connection, field, some)
        rows = connection.execute(
            select(entry)
            .where(entry.c.field == field, entry.c.subject.in_(some), is_live())
            .order_by(entry.c.subject, entry.c.at, entry.c.id)
        )
        latest = {row.subject: row for row in rows}
        connection.execute(delete(table).where(table.c.id.in_(some)))
        if latest:
            connection.execute(insert(table), [_noun_row(table, row) for row in latest.values()])
        touched |= _heaters_of(connection, field, some)
    return touched


def _noun_row(table: Table, row: Row[Any]) -> dict[str, Any]:
    noun = noun_of(row.field, row.subject, json.loads(row.value))
    return _columns(table, noun) | {"id": row.subject, "entry": row.id}


def _heaters_of(connection: Connection, field: str, subjects: Sequence[str]) -> set[str]:
    match field:
        case "heater":
            return set(subjects)
        case "visit":
            found = select(visit.c.heater).where(visit.c.id.in_(subjects))
        case "vehicle":
            found = select(heater.c.id).where(heater.c.vehicle.in_(subjects))
        case "owner":
            found = select(heater.c.id).join(vehicle, vehicle.c.id == heater.c.vehicle)
            found = found.where(vehicle.c.owner.in_(subjects))
        case _:
            return set()
    return set(connection.scalars(found))


def _project_lines(connection: Connection, heaters: set[str]) -> None:
    for some in chunks(heaters):
        visits: dict[str, list[Any]] = {}
        for row in connection.execute(
            select(visit.c.heater, visit.c.id, visit.c.started_at)
            .where(visit.c.heater.in_(some))
            .order_by(visit.c.heater, visit.c.started_at, visit.c.id)
        ):
            visits.setdefault(row.heater, []).append(row)
        named = connection.execute(
            select(
                heater.c.id,
                heater.c.name,
                heater.c.serial,
                vehicle.c.name.label("vehicle_name"),
                vehicle.c.registration,
                owner.c.name.label("owner_name"),
            )
            .join(vehicle, vehicle.c.id == heater.c.vehicle)
            .join(owner, owner.c.id == vehicle.c.owner)
            .where(heater.c.id.in_(some))
        )
        lines = [_line_row(row, visits.get(row.id, [])) for row in named]
        connection.execute(delete(heater_line).where(heater_line.c.heater.in_(some)))
        if lines:
            connection.execute(insert(heater_line), lines)


def _line_row(row: Any, visits: list[Any]) -> dict[str, Any]:
    last = visits[-1] if visits else None
    words = (row.vehicle_name, row.name, row.owner_name, row.serial, row.registration)
    return {
        "heater": row.id,
        "sort_at": last.started_at if last else NEVER_VISITED,
        "search_text": folded("\n".join(words)),
        "last_visit": last.id if last else None,
        "last_visit_at": last.started_at if last else None,
        "visit_count": len(visits),
    }


def folded(text: str) -> str:
    """Text as a search compares it: case and compatible spellings do not matter."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold())
