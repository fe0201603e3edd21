"""What a visit stopped when it was closed."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("close", sa.Column("stops", sa.Text, nullable=False, server_default="[]"))
