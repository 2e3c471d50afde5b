"""Programs, and when each last gave a sign of life."""

import sqlalchemy as sa
from alembic import op

revision = "3"
down_revision = "2"


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "programs",
        sa.Column("host", sa.String, primary_key=True),
        sa.Column("pid", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("began", sa.Float, primary_key=True),
        sa.Column("seen_s", sa.Float, nullable=False),
    )
