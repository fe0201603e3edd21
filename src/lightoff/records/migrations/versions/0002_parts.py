"""Parts and their moves, bins, and how the steps of the order of work ended."""

from typing import Any

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import TIMESTAMP

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_TIME = sa.Text().with_variant(TIMESTAMP(timezone=True), "postgresql")


def _text(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Text, nullable=False) for name in names]


def _noun(name: str, *columns: Any) -> None:
    entry = sa.Column("entry", sa.Text, sa.ForeignKey("entry.id"), nullable=False)
    op.create_table(name, sa.Column("id", sa.Text, primary_key=True), entry, *columns, sqlite_strict=True)


def _part(name: str, *columns: Any) -> None:
    identity = sa.Column("id", sa.Text, sa.ForeignKey("entry.id"), primary_key=True)
    op.create_table(name, identity, *_text("visit"), *columns, sqlite_strict=True)
    op.create_index(f"ix_{name}_visit", name, ["visit"])


def upgrade() -> None:
    stamped = sa.Column("stamped_on", sa.Text)
    _noun("part", *_text("kind", "heater"), stamped, *_text("serial", "note"))
    op.create_index("ix_part_heater", "part", ["heater"])
    _noun(
        "bin",
        *_text("kind", "place"),
        sa.Column("counted", sa.Integer, nullable=False),
        sa.Column("counted_at", _TIME, nullable=False),
        sa.Column("minimum", sa.Integer, nullable=False),
        sa.Column("price", sa.Text),
    )
    op.create_index("ix_bin_kind", "bin", ["kind"])
    _part(
        "move",
        *_text("heater", "part", "kind"),
        sa.Column("at", _TIME, nullable=False),
        *_text("bin", "why", "condition"),
        sa.Column("price", sa.Text),
    )
    op.create_index("ix_move_part", "move", ["part"])
    op.create_index("ix_move_heater", "move", ["heater"])
    # Hour meters of one heater or of all are asked for apart from their visits.
    op.create_index("ix_reading_key_heater", "reading", ["key", "heater"])
    _part(
        "step",
        *_text("heater", "step", "outcome"),
        sa.Column("at", _TIME, nullable=False),
        *_text("state", "reason", "note"),
    )
