"""Places for a record, and what the tests put into it."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Turned
from sequences.alignment.progress import Choice, Note, StepBegun, StepDecided, StepLeft, StepMeasured
from sequences.engine.events import Asked, ReadingTaken
from sequences.engine.instruments import Mark
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Signs, judge_error, suspect_without_figure
from sequences.numerics.wording import in_unit
from sequences.plan.content import WayName
from sequences.receiver.file import load_receiver_file
from server.records.jobs import NewJob
from server.records.runs import NewRun
from tests.quantities import called

SCAN = NewRun(
    mode="practice",
    target="skerry-7-third-passband-2khz",
    target_name="60 kHz passband, 2 kHz",
    receiver="Skerry 7",
    settings={"start_hz": 56000.0, "stop_hz": 64000.0},
    instruments=[{"role": "source", "address": "A", "identity": "Invented,SG,1,1", "state": "ready", "detail": None}],
)

JOB = NewJob(
    receiver_id="skerry-7",
    receiver_name="Skerry 7",
    receiver_file=load_receiver_file(Path("skerry-7")).text,
    mode="bench",
    owner="A. Reed",
    make="Skerry",
    serial="1234",
    operator="B. Marsh",
    room_temperature_c=21.5,
    calibration_note="March 2026",
    instruments=SCAN.instruments,
    remark="Smells of wax.",
)

UNBOUNDED = Finding(called("bend", "kHz"), "500 kHz", Estimate(0.25, float("inf")))
JUDGED = Finding(
    called("error", "Hz"), "", Estimate(30.0, 1.0), judge_error("It", Estimate(30.0, 1.0), 20.0, in_unit("Hz"))
)
SUSPECT = Finding(
    called("left", "dB"), "", None, suspect_without_figure("It", 0.5, Signs(seized=True)), "It sits fast."
)
FOUND = StepOutcome("filter-t2", Phase.AS_FOUND, (UNBOUNDED, JUDGED))
ADJUSTED = StepOutcome(
    "filter-t2", Phase.ADJUST, (UNBOUNDED, JUDGED, SUSPECT), (Turned("T2 primary", -0.5),), ("Do.",), ("But.",)
)
NOTES: list[Note] = [
    StepBegun("filter-t2", WayName.STEP_AND_FIT),
    StepMeasured(FOUND, at_s=1e9),
    StepDecided("filter-t2", Choice.ADJUST),
    StepMeasured(ADJUSTED, at_s=1e9),
    StepDecided("filter-t2", Choice.LEAVE),
    StepLeft("filter-t1", "The person left it as it is."),
]
ASKED = Asked("set", "dial", "Set dial to 3.", ("done",), {"to": 3.0})


def reading(index: int, value: float | None = 0.5, mark: Mark = Mark.GOOD) -> ReadingTaken:
    """Make a meter reading."""
    return ReadingTaken(index, 0.1 * index, "meter", "scan", value, "V", mark, 60000.0 + index, -60.0)


@contextmanager
def empty_place(request: pytest.FixtureRequest, folder: Path) -> Iterator[str]:
    """Give where an empty record may be made, on the database that the fixture's parameter names."""
    if request.param == "sqlite":
        yield str(folder / "record.sqlite")
        return
    cluster = request.getfixturevalue("postgresql")
    with cluster.database() as url:
        yield url


def at_noon() -> datetime:
    """Give the time of day of these tests."""
    return datetime(2026, 11, 25, 12, 0, 0, 500_000, tzinfo=UTC)
