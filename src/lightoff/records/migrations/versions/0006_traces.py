"""What was found in the logs of a heater."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import TIMESTAMP

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

_TIME = sa.Text().with_variant(TIMESTAMP(timezone=True), "postgresql")


def upgrade() -> None:
    seconds = ("logged_s", "burned_s", "burned_low_s", "burned_high_s")
    counts = ("starts", "starts_unsure", "row_count", "bad_row_count")
    op.create_table(
        "trace",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("entry", sa.Text, sa.ForeignKey("entry.id"), nullable=False),
        sa.Column("heater", sa.Text, nullable=False),
        sa.Column("began_at", _TIME, nullable=False),
        sa.Column("ended_at", _TIME, nullable=False),
        sa.Column("channel", sa.Text, nullable=False),
        *(sa.Column(name, sa.Text, nullable=False) for name in seconds),
        *(sa.Column(name, sa.Integer, nullable=False) for name in counts),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("file_name", "sha256")),
        sqlite_strict=True,
    )
    op.create_index("ix_trace_heater", "trace", ["heater"])
