"""Sources whose output may be on: entered before an output goes on, and taken out once it is confirmed off."""

import sqlalchemy as sa
from alembic import op

revision = "5"
down_revision = "4"


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "outputs",
        sa.Column("host", sa.String, primary_key=True),
        sa.Column("address", sa.String, primary_key=True),
        sa.Column("since_utc", sa.String, nullable=False),
    )
