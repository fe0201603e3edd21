"""The tables of a book: two that only grow, and the projections that can be rebuilt from them.

A projection's columns bear the names of its noun's fields, so that a row and a noun are one step apart.
What the tables were in each version stands in `migrations/`; a test holds both together.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy import CheckConstraint, Column, ForeignKey, Index, Integer, LargeBinary, MetaData, Table, Text
from sqlalchemy.schema import SchemaItem
from sqlalchemy.types import TypeEngine

from lightoff.records.columns import Day, Number, Truth, UtcTime, Word, Written
from lightoff.terms.part import MoveKind, Outcome
from lightoff.terms.people import Span, VehicleKind
from lightoff.terms.trace import Channel
from lightoff.terms.visit import EventKind, Place, Stage

metadata = MetaData(naming_convention={"ix": "ix_%(table_name)s_%(column_0_N_name)s"})

entry = Table(
    "entry",
    metadata,
    Column("id", Text, primary_key=True),
    Column("subject", Text, nullable=False),
    Column("field", Text, nullable=False),
    Column("value", Text, nullable=False),
    Column("author", Text, nullable=False),
    Column("at", UtcTime, nullable=False),
    Column("corrects", Text),
    Column("sha256", Text, nullable=False),
    Index(None, "subject", "field"),
    Index(None, "corrects"),
    sqlite_strict=True,
)

photo_bytes = Table(
    "photo_bytes",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("media_type", Text, nullable=False),
    Column("data", LargeBinary, nullable=False),
    sqlite_strict=True,
)


def _texts(*names: str) -> list[Column[str]]:
    return [Column(name, Text, nullable=False) for name in names]


def _truth(name: str) -> list[Column[bool] | CheckConstraint]:
    return [
        Column(name, Truth, nullable=False),
        CheckConstraint(f"{name} IN (0, 1)", name=f"{name}_is_truth"),
    ]


def _needed(name: str, kind: TypeEngine[Any]) -> Column[Any]:
    return Column(name, kind, nullable=False)


def _noun(name: str, *columns: SchemaItem) -> Table:
    """One row for each subject: its latest live entry."""
    stands_on = Column("entry", Text, ForeignKey("entry.id"), nullable=False)
    identity = Column("id", Text, primary_key=True)
    return Table(name, metadata, identity, stands_on, *columns, sqlite_strict=True)


def _part(name: str, *columns: SchemaItem) -> Table:
    """One row for each live entry that speaks of a visit; the entry's id is its own."""
    identity = Column("id", Text, ForeignKey("entry.id"), primary_key=True)
    visit_id = Column("visit", Text, nullable=False)
    index = Index(None, "visit")
    return Table(name, metadata, identity, visit_id, *columns, index, sqlite_strict=True)


owner = _noun("owner", *_texts("name", "address", "telephone", "email"))
vehicle = _noun(
    "vehicle",
    *_texts("owner", "name"),
    _needed("kind", Word(VehicleKind)),
    *_texts("description", "registration"),
    Index(None, "owner"),
)
heater = _noun(
    "heater",
    *_texts("vehicle", "name", "sheet", "serial"),
    Column("fitted_on", Day),
    *_texts("note"),
    Index(None, "vehicle"),
)
instrument = _noun(
    "instrument",
    *_texts("name", "kind", "serial"),
    Column("calibrated_on", Day),
    _needed("spans", Written(tuple[Span, ...])),
    *_truth("retired"),
    _needed("earlier_calibrations", Written(tuple[date, ...])),
    *_texts("o2_basis"),
)
shop = _noun(
    "shop",
    *_texts("name", "address", "telephone", "email", "technician", "units", "language", "paper"),
    *_truth("invented"),
    *_truth("prices_on_report"),
)
planning = _noun(
    "planning",
    *(_needed(name, Integer()) for name in ("spring_month", "spring_day", "service_months", "service_hours")),
    *(
        _needed(name, Number())
        for name in ("hour_rate", "trip", "failure", "second_trip", "usual_price", "spare_share")
    ),
)
part = _noun(
    "part",
    *_texts("kind", "heater"),
    Column("stamped_on", Day),
    *_texts("serial", "note"),
    Index(None, "heater"),
)
bin_ = _noun(
    "bin",
    *_texts("kind", "place"),
    _needed("counted", Integer()),
    _needed("counted_at", UtcTime()),
    _needed("minimum", Integer()),
    Column("price", Number),
    Index(None, "kind"),
)
trace = _noun(
    "trace",
    *_texts("heater"),
    _needed("began_at", UtcTime()),
    _needed("ended_at", UtcTime()),
    _needed("channel", Word(Channel)),
    *(_needed(name, Number()) for name in ("logged_s", "burned_s", "burned_low_s", "burned_high_s")),
    *(_needed(name, Integer()) for name in ("starts", "starts_unsure", "row_count", "bad_row_count")),
    *_texts("file_name", "sha256"),
    Index(None, "heater"),
)
visit = _noun(
    "visit",
    *_texts("heater"),
    _needed("started_at", UtcTime()),
    Column("utc_offset_minutes", Integer),
    *_texts("technician", "reason", "complaint"),
    _needed("work_done", Written(tuple[str, ...])),
    *_truth("service_complete"),
    *_texts("fuel"),
    _needed("place", Written(Place)),
    _needed("destination", Written(Place | None)),
    *_texts("note"),
    Index(None, "heater", "started_at", "id"),
    Index(None, "started_at", "id"),
)
reading = _part(
    "reading",
    *_texts("heater", "key"),
    _needed("stage", Word(Stage)),
    Column("taken_at", UtcTime),
    Column("value", Number),
    *_texts("unit"),
    Column("state", Text),
    Column("test", Text),
    Column("set_number", Integer),
    Column("basis", Text),
    Column("instrument", Text),
    *_truth("at_top"),
    *_truth("confirmed"),
    Column("typed_uncertainty", Number),
    *_texts("place", "note"),
    _needed("entered_at", UtcTime()),
    Column("corrects", Text),
    Column("photo", Text),
    Index(None, "key", "heater"),
)
event = _part(
    "event", *_texts("heater"), _needed("kind", Word(EventKind)), _needed("at", UtcTime()), *_texts("note")
)
photo = _part(
    "photo",
    *_texts("heater"),
    _needed("taken_at", UtcTime()),
    *_texts("sha256", "media_type"),
    Column("reading_key", Text),
    Column("stage", Word(Stage)),
    *_texts("caption", "step", "place"),
    *_truth("cut_short"),
)
move = _part(
    "move",
    *_texts("heater", "part"),
    _needed("kind", Word(MoveKind)),
    _needed("at", UtcTime()),
    *_texts("bin", "why", "condition"),
    Column("price", Number),
    *_texts("cause"),
    Index(None, "part"),
    Index(None, "heater"),
    Index(None, "bin"),
)
step = _part(
    "step",
    *_texts("heater", "step"),
    _needed("outcome", Word(Outcome)),
    _needed("at", UtcTime()),
    *_texts("state", "reason", "note"),
    _needed("exchange", Written(tuple[str, ...])),
)
close = _part(
    "close",
    *(
        _needed("closed_at", UtcTime()),
        *_texts("verdict", "content"),
        _needed("stops", Written(tuple[str, ...])),
    ),
)
accept = _part("accept", *_texts("reading", "author"), _needed("at", UtcTime()))

# One line for each heater whose vehicle and owner are known: what a search looks through.
heater_line = Table(
    "heater_line",
    metadata,
    Column("heater", Text, primary_key=True),
    Column("sort_at", UtcTime, nullable=False),
    Column("search_text", Text, nullable=False),
    Column("last_visit", Text),
    Column("last_visit_at", UtcTime),
    Column("visit_count", Integer, nullable=False),
    Index(None, "sort_at", "heater"),
    sqlite_strict=True,
)

NOUN_TABLES: Mapping[str, Table] = {
    each.name: each for each in (owner, vehicle, heater, instrument, shop, planning, part, bin_, trace, visit)
}
PART_TABLES: Mapping[str, Table] = {
    each.name: each for each in (reading, event, photo, move, step, close, accept)
}
PROJECTIONS: tuple[Table, ...] = (*NOUN_TABLES.values(), *PART_TABLES.values(), heater_line)
APPEND_ONLY: tuple[Table, ...] = (entry, photo_bytes)
