"""What came out of a bin is found without reading every move."""

from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index("ix_move_bin", "move", ["bin"])
