"""The first book: entries and photo bytes that only grow, and their projections."""

from typing import Any

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import TIMESTAMP

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_TIME = sa.Text().with_variant(TIMESTAMP(timezone=True), "postgresql")


def _text(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Text, nullable=False) for name in names]


def _text_or_none(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Text) for name in names]


def _time(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, _TIME, nullable=False) for name in names]


def _truth(*names: str) -> list[Any]:
    return [
        each
        for name in names
        for each in (
            sa.Column(name, sa.Integer, nullable=False),
            sa.CheckConstraint(f"{name} IN (0, 1)", name=f"{name}_is_truth"),
        )
    ]


def _noun(name: str, *columns: Any) -> None:
    entry = sa.Column("entry", sa.Text, sa.ForeignKey("entry.id"), nullable=False)
    op.create_table(name, sa.Column("id", sa.Text, primary_key=True), entry, *columns, sqlite_strict=True)


def _part(name: str, *columns: Any) -> None:
    identity = sa.Column("id", sa.Text, sa.ForeignKey("entry.id"), primary_key=True)
    op.create_table(name, identity, *_text("visit"), *columns, sqlite_strict=True)
    op.create_index(f"ix_{name}_visit", name, ["visit"])


def upgrade() -> None:
    _what_only_grows()
    _nouns()
    _parts_of_a_visit()
    op.create_table(
        "heater_line",
        sa.Column("heater", sa.Text, primary_key=True),
        *_time("sort_at"),
        *_text("search_text"),
        *_text_or_none("last_visit"),
        sa.Column("last_visit_at", _TIME),
        sa.Column("visit_count", sa.Integer, nullable=False),
        sqlite_strict=True,
    )
    op.create_index("ix_heater_line_sort_at_heater", "heater_line", ["sort_at", "heater"])


def _what_only_grows() -> None:
    op.create_table(
        "entry",
        sa.Column("id", sa.Text, primary_key=True),
        *_text("subject", "field", "value", "author"),
        *_time("at"),
        *_text_or_none("corrects"),
        *_text("sha256"),
        sqlite_strict=True,
    )
    op.create_index("ix_entry_subject_field", "entry", ["subject", "field"])
    op.create_index("ix_entry_corrects", "entry", ["corrects"])
    op.create_table(
        "photo_bytes",
        sa.Column("sha256", sa.Text, primary_key=True),
        *_text("media_type"),
        sa.Column("data", sa.LargeBinary, nullable=False),
        sqlite_strict=True,
    )
    guard = _guard_sqlite if op.get_bind().dialect.name == "sqlite" else _guard_postgresql
    guard("entry", "id")
    guard("photo_bytes", "sha256")


def _guard_sqlite(table: str, key: str) -> None:
    refusal = f"SELECT RAISE(ABORT, '{table} only grows: nothing in it is changed or deleted');"
    for act in ("UPDATE", "DELETE"):
        op.execute(f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} BEGIN {refusal} END")
    # INSERT OR REPLACE deletes without asking the trigger above.
    exists = f"EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key})"
    op.execute(
        f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} WHEN {exists} BEGIN {refusal} END"
    )


def _guard_postgresql(table: str, key: str) -> None:
    op.execute(
        f"CREATE FUNCTION {table}_only_grows() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"RAISE EXCEPTION '{table} only grows: nothing in it is changed or deleted'; END $$"
    )
    op.execute(
        f"CREATE TRIGGER {table}_only_grows BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {table}_only_grows()"
    )


def _nouns() -> None:
    _noun("owner", *_text("name", "address", "telephone", "email"))
    _noun("vehicle", *_text("owner", "name", "kind", "description", "registration"))
    op.create_index("ix_vehicle_owner", "vehicle", ["owner"])
    _noun("heater", *_text("vehicle", "name", "sheet", "serial"), *_text_or_none("fitted_on"), *_text("note"))
    op.create_index("ix_heater_vehicle", "heater", ["vehicle"])
    calibrated = _text_or_none("calibrated_on")
    _noun(
        "instrument",
        *_text("name", "kind", "serial"),
        *calibrated,
        *_text("spans"),
        *_truth("retired"),
        *_text("earlier_calibrations"),
    )
    shop = _text("name", "address", "telephone", "email", "technician", "units", "language", "paper")
    _noun("shop", *shop, *_truth("invented"))
    _noun(
        "visit",
        *_text("heater"),
        *_time("started_at"),
        *_text("technician", "reason", "complaint", "work_done"),
        *_truth("service_complete"),
        *_text("fuel", "place", "destination", "note"),
    )
    op.create_index("ix_visit_heater_started_at_id", "visit", ["heater", "started_at", "id"])
    op.create_index("ix_visit_started_at_id", "visit", ["started_at", "id"])


def _parts_of_a_visit() -> None:
    _part(
        "reading",
        *_text("heater", "key", "stage"),
        sa.Column("taken_at", _TIME),
        *_text_or_none("value"),
        *_text("unit"),
        *_text_or_none("state", "test"),
        sa.Column("set_number", sa.Integer),
        *_text_or_none("basis", "instrument"),
        *_truth("at_top", "confirmed"),
        *_text_or_none("typed_uncertainty"),
        *_text("place", "note"),
        *_time("entered_at"),
        *_text_or_none("corrects", "photo"),
    )
    _part("event", *_text("heater", "kind"), *_time("at"), *_text("note"))
    taken = _time("taken_at")
    shown = _text_or_none("reading_key", "stage")
    _part("photo", *_text("heater"), *taken, *_text("sha256", "media_type"), *shown, *_text("caption"))
    _part("close", *_time("closed_at"))
    _part("accept", *_text("reading", "author"), *_time("at"))
