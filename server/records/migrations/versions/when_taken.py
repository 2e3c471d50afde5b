"""Figures that say in their phase, and no longer in their name or place, when they were taken.

Notes stay as they were written: they are read as the same wherever they come from, a job's file too.
"""

from typing import Any

import sqlalchemy as sa
from alembic import op

from server.records.when_taken import TIMES, when_in, without_when

revision = "4"
down_revision = "3"

KEY = ("job_id", "note_seq", "place")
FIGURES = sa.table("figures", *(sa.column(name) for name in (*KEY, "name", "where", "phase")))


def upgrade() -> None:
    """Put names, places and phases right."""
    said = [column.contains(when) for column in (FIGURES.c.name, FIGURES.c.where) for when in TIMES]
    rows = op.get_bind().execute(sa.select(FIGURES).where(sa.or_(*said))).mappings().all()
    here = sa.and_(*(FIGURES.c[name] == sa.bindparam(f"its_{name}") for name in KEY))
    new: dict[str, Any] = {name: sa.bindparam(f"new_{name}") for name in ("name", "where", "phase")}
    if rows:
        op.get_bind().execute(sa.update(FIGURES).where(here).values(new), [_put_right(dict(row)) for row in rows])


def _put_right(row: dict[str, object]) -> dict[str, object]:
    name, where = str(row["name"]), str(row["where"])
    return {
        **{f"its_{each}": row[each] for each in KEY},
        "new_name": without_when(name),
        "new_where": without_when(where),
        "new_phase": when_in(name, where) or row["phase"],
    }
