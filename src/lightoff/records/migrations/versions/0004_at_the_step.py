"""Photographs at a step, what a step's answer wrote of a part, and whether prices stand on the report."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def _text(name: str, before: str) -> "sa.Column[str]":
    return sa.Column(name, sa.Text, nullable=False, server_default=before)


def upgrade() -> None:
    op.add_column("photo", _text("step", ""))
    op.add_column("step", _text("exchange", "[]"))
    truth = sa.CheckConstraint("prices_on_report IN (0, 1)", name="prices_on_report_is_truth")
    op.add_column(
        "shop", sa.Column("prices_on_report", sa.Integer, truth, nullable=False, server_default="0")
    )
