"""Jobs, with what belongs to them; and runs that may be part of one."""

import sqlalchemy as sa
from alembic import op

revision = "2"
down_revision = "1"

UNREADABLE_BEFORE_JOBS = 2
"""The number by which programs older than jobs, which know no migrations, see that a file is too new for them."""


def upgrade() -> None:
    """Make the tables, and widen that of the runs."""
    _make_jobs()
    _make_what_is_worked_out()
    _make_attachments()
    _widen_runs()
    if op.get_bind().dialect.name == "sqlite":
        op.execute(f"PRAGMA user_version={UNREADABLE_BEFORE_JOBS}")


def _job_id(*, primary_key: bool = False) -> sa.Column[int]:
    return sa.Column("job_id", sa.Integer, sa.ForeignKey("jobs.id"), primary_key=primary_key, nullable=False)


def _make_jobs() -> None:
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("uid", sa.String, nullable=False, unique=True),
        sa.Column("started_utc", sa.String, nullable=False),
        sa.Column("ended_utc", sa.String),
        sa.Column("state", sa.String, nullable=False),
        sa.Column("receiver_id", sa.String, nullable=False),
        sa.Column("receiver_name", sa.String, nullable=False),
        sa.Column("receiver_file", sa.String, nullable=False),
        sa.Column("mode", sa.String, nullable=False),
        sa.Column("seed", sa.Integer),
        *(sa.Column(name, sa.String, nullable=False) for name in ("owner", "make", "serial", "operator")),
        sa.Column("room_temperature_c", sa.Float),
        sa.Column("calibration_note", sa.String, nullable=False),
        sa.Column("instruments", sa.JSON, nullable=False),
        sa.Column("remark", sa.String, nullable=False),
        sa.Column("claim_host", sa.String),
        sa.Column("claim_pid", sa.Integer),
        sa.Column("claim_began", sa.Float),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_jobs_receiver_id_serial", "jobs", ["receiver_id", "serial"])
    op.create_index("ix_jobs_started_utc", "jobs", ["started_utc"])
    op.create_table(
        "notes",
        _job_id(primary_key=True),
        sa.Column("seq", sa.Integer, primary_key=True),
        sa.Column("at_utc", sa.String, nullable=False),
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("body", sa.JSON, nullable=False),
        sa.Column("run_id", sa.Integer),
    )
    op.create_table(
        "answers",
        _job_id(primary_key=True),
        sa.Column("seq", sa.Integer, primary_key=True),
        sa.Column("at_utc", sa.String, nullable=False),
        sa.Column("asked", sa.JSON, nullable=False),
        sa.Column("answer", sa.String, nullable=False),
    )


def _make_what_is_worked_out() -> None:
    op.create_table(
        "steps",
        _job_id(primary_key=True),
        sa.Column("step_id", sa.String, primary_key=True),
        sa.Column("ending", sa.String, nullable=False),
        sa.Column("verdict", sa.String),
        sa.Column("adjusted", sa.Boolean, nullable=False),
    )
    op.create_table(
        "figures",
        _job_id(primary_key=True),
        sa.Column("note_seq", sa.Integer, primary_key=True),
        sa.Column("place", sa.Integer, primary_key=True),
        *(sa.Column(name, sa.String, nullable=False) for name in ("at_utc", "step_id", "phase", "name")),
        *(sa.Column(name, sa.String, nullable=False) for name in ("where", "unit")),
        sa.Column("value", sa.Float),
        sa.Column("sigma", sa.Float),
        sa.Column("verdict", sa.String),
    )
    op.create_index("ix_figures_step_id_verdict", "figures", ["step_id", "verdict"])
    op.create_index("ix_figures_verdict", "figures", ["verdict"])


def _make_attachments() -> None:
    op.create_table(
        "remarks",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        _job_id(),
        sa.Column("step_id", sa.String),
        sa.Column("at_utc", sa.String, nullable=False),
        sa.Column("text", sa.String, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_remarks_job_id", "remarks", ["job_id"])
    op.create_table(
        "photos",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        _job_id(),
        sa.Column("step_id", sa.String),
        *(sa.Column(name, sa.String, nullable=False) for name in ("at_utc", "name", "media_type")),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_photos_job_id", "photos", ["job_id"])


def _widen_runs() -> None:
    job_id = sa.Column("job_id", sa.Integer, sa.ForeignKey("jobs.id"))
    op.add_column("runs", job_id, inline_references=True)
    for name in ("owner_host", "step_id", "phase", "way"):
        op.add_column("runs", sa.Column(name, sa.String))
    op.add_column("runs", sa.Column("reading_count", sa.Integer))
    op.create_index("ix_runs_job_id", "runs", ["job_id"])
    op.execute(
        "UPDATE runs SET reading_count = (SELECT count(*) FROM readings WHERE readings.run_id = runs.id) "
        "WHERE ending IS NOT NULL"
    )
