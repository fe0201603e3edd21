"""Where a photograph was taken, where somebody wants that kept."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("photo", sa.Column("place", sa.Text, nullable=False, server_default=""))
