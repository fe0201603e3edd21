"""Whether a picture's file breaks off, and somebody wanted it all the same."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    truth = sa.CheckConstraint("cut_short IN (0, 1)", name="cut_short_is_truth")
    op.add_column("photo", sa.Column("cut_short", sa.Integer, truth, nullable=False, server_default="0"))
