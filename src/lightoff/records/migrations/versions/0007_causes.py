"""The fault that ended a failed piece."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("move", sa.Column("cause", sa.Text, nullable=False, server_default=""))
