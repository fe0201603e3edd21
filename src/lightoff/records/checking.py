"""Looking for damage: what a doctor of the book wants to know."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

from sqlalchemy import Connection, Table, and_, exists, func, or_, select

from lightoff.ground.values import dataclass
from lightoff.records import tables
from lightoff.records.entries import entry_of, sha256_of
from lightoff.records.projecting import is_live, rebuild


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkup:
    """What was found. `damage` is what the database says of its own file, empty where it is whole.

    `altered` are entries and photo bytes that no longer match their hash; `differing` are projections
    that a rebuild would change (`Book.rebuild` mends them); `waiting_count` counts live parts whose visit
    has not arrived.
    """

    damage: tuple[str, ...]
    altered: tuple[str, ...]
    differing: tuple[str, ...]
    counts: Mapping[str, int]
    waiting_count: int

    @property
    def is_sound(self) -> bool:
        """Nothing is damaged, altered or different."""
        return not (self.damage or self.altered or self.differing)


def check(connection: Connection) -> Checkup:
    """Look through the whole book. It rebuilds on the way: the caller rolls back."""
    damage = _damage(connection)
    counts = {
        each.name: _count(connection, each)
        for each in (tables.entry, tables.photo_bytes, *tables.PROJECTIONS)
    }
    altered = _altered(connection)
    waiting = _waiting(connection)
    before = {each.name: digest(connection, each) for each in tables.PROJECTIONS}
    rebuild(connection)
    differing = tuple(
        each.name for each in tables.PROJECTIONS if digest(connection, each) != before[each.name]
    )
    return Checkup(damage=damage, altered=altered, differing=differing, counts=counts, waiting_count=waiting)


def digest(connection: Connection, table: Table) -> str:
    """A hash over all rows of a table, whatever order they were written in."""
    found = hashlib.sha256()
    for row in connection.execute(select(table).order_by(*table.primary_key.columns)):
        found.update(repr(tuple(row)).encode())
    return found.hexdigest()


def _damage(connection: Connection) -> tuple[str, ...]:
    if connection.dialect.name != "sqlite":
        return ()
    said = connection.exec_driver_sql("PRAGMA integrity_check").scalars()
    orphans = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    return (
        *(each for each in said if each != "ok"),
        *(f"{row[0]} row {row[1]}: no entry" for row in orphans),
    )


def _count(connection: Connection, table: Table) -> int:
    return connection.scalar(select(func.count()).select_from(table)) or 0


def _altered(connection: Connection) -> tuple[str, ...]:
    entries = connection.execute(select(tables.entry).execution_options(yield_per=1000))
    altered = [row.id for row in entries if sha256_of(entry_of(row), row.value) != row.sha256]
    photos = connection.execute(select(tables.photo_bytes).execution_options(yield_per=10))
    altered += [row.sha256 for row in photos if hashlib.sha256(row.data).hexdigest() != row.sha256]
    return tuple(altered)


def _waiting(connection: Connection) -> int:
    table = tables.entry
    arrived = exists().where(tables.visit.c.id == table.c.subject)
    parts = and_(table.c.field.in_(tables.PART_TABLES), is_live(), ~arrived)
    missing = [parts]
    for part, reference, whole in (
        ("visit", tables.visit.c.heater, tables.heater),
        ("heater", tables.heater.c.vehicle, tables.vehicle),
        ("vehicle", tables.vehicle.c.owner, tables.owner),
    ):
        own = tables.NOUN_TABLES[part]
        stands = exists().where(own.c.entry == table.c.id, ~exists().where(whole.c.id == reference))
        missing.append(and_(table.c.field == part, stands))
    return connection.scalar(select(func.count()).select_from(table).where(or_(*missing))) or 0
