"""How a visit ended when it was closed, and what that was judged from."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for name in ("verdict", "content"):
        op.add_column("close", sa.Column(name, sa.Text, nullable=False, server_default=""))
