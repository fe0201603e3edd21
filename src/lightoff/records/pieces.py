"""Questions about pieces that wear: which there are, what happened to them, how far the counters ran."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import Connection, select

from lightoff.records import tables
from lightoff.records.making import many
from lightoff.terms.part import Bin, Move, Part
from lightoff.terms.visit import Reading

COUNTERS = ("hour_meter", "starts_count")


def parts(connection: Connection, heater_id: str | None) -> tuple[Part, ...]:
    """Pieces of one heater or of all, in the order in which they became known."""
    table = tables.part
    found = select(table).order_by(table.c.id)
    return many(
        connection, Part, table, found if heater_id is None else found.where(table.c.heater == heater_id)
    )


def moves(connection: Connection, heater_id: str | None) -> tuple[Move, ...]:
    """What happened to them, in order of time."""
    table = tables.move
    found = select(table).order_by(table.c.at, table.c.id)
    return many(
        connection, Move, table, found if heater_id is None else found.where(table.c.heater == heater_id)
    )


def bins(connection: Connection) -> tuple[Bin, ...]:
    """All bins by place and type."""
    table = tables.bin_
    return many(connection, Bin, table, select(table).order_by(table.c.place, table.c.kind, table.c.id))


def counters(connection: Connection, heater_id: str | None) -> tuple[Reading, ...]:
    """What hour meters and start counters showed, in order of time."""
    table = tables.reading
    found = (
        select(table)
        .where(table.c.key.in_(COUNTERS), table.c.value.is_not(None))
        .order_by(table.c.taken_at, table.c.id)
    )
    return many(
        connection, Reading, table, found if heater_id is None else found.where(table.c.heater == heater_id)
    )


def visited(connection: Connection, heater_id: str | None) -> Mapping[str, tuple[datetime, ...]]:
    """When each heater was visited, oldest first."""
    table = tables.visit
    found = select(table.c.heater, table.c.started_at).order_by(table.c.started_at)
    found = found if heater_id is None else found.where(table.c.heater == heater_id)
    seen: dict[str, list[datetime]] = {}
    for row in connection.execute(found):
        seen.setdefault(row.heater, []).append(row.started_at)
    return {heater: tuple(moments) for heater, moments in seen.items()}
