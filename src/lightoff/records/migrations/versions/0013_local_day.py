"""How far the clock where a visit was is ahead of UTC: its days are those that the technician lived."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("visit", sa.Column("utc_offset_minutes", sa.Integer))
