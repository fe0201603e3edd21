"""Whether an instrument reads oxygen in dried or in wet gas, as its own sheet says."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("instrument", sa.Column("o2_basis", sa.Text, nullable=False, server_default=""))
