"""Scans: runs with their readings and events, as records had them before jobs."""

import sqlalchemy as sa
from alembic import op

revision = "1"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "runs",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("started_utc", sa.String, nullable=False),
        sa.Column("ended_utc", sa.String),
        sa.Column("mode", sa.String, nullable=False),
        sa.Column("target", sa.String, nullable=False),
        sa.Column("target_name", sa.String, nullable=False),
        sa.Column("receiver", sa.String, nullable=False),
        sa.Column("settings", sa.JSON, nullable=False),
        sa.Column("instruments", sa.JSON, nullable=False),
        sa.Column("ending", sa.String),
        sa.Column("ending_text", sa.String),
        sa.Column("output_off", sa.Boolean),
        sa.Column("result", sa.JSON),
        sa.Column("owner_pid", sa.Integer, nullable=False),
        sa.Column("owner_began", sa.Float, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "readings",
        sa.Column("run_id", sa.Integer, sa.ForeignKey("runs.id"), primary_key=True),
        sa.Column("index", sa.Integer, primary_key=True),
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("time_s", sa.Float, nullable=False),
        sa.Column("role", sa.String, nullable=False),
        sa.Column("purpose", sa.String, nullable=False),
        sa.Column("value", sa.Float),
        sa.Column("unit", sa.String, nullable=False),
        sa.Column("mark", sa.String, nullable=False),
        sa.Column("frequency_hz", sa.Float),
        sa.Column("power_dbm", sa.Float),
        sa.Column("level_db", sa.Float),
        sa.Column("used", sa.Boolean),
    )
    op.create_table(
        "events",
        sa.Column("run_id", sa.Integer, sa.ForeignKey("runs.id"), primary_key=True),
        sa.Column("seq", sa.Integer, primary_key=True),
        sa.Column("body", sa.JSON, nullable=False),
    )
