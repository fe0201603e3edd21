"""What the shop reckons with when it plans."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    counts = ("spring_month", "spring_day", "service_months", "service_hours")
    numbers = ("hour_rate", "trip", "failure", "second_trip", "usual_price", "spare_share")
    op.create_table(
        "planning",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("entry", sa.Text, sa.ForeignKey("entry.id"), nullable=False),
        *(sa.Column(name, sa.Integer, nullable=False) for name in counts),
        *(sa.Column(name, sa.Text, nullable=False) for name in numbers),
        sqlite_strict=True,
    )
