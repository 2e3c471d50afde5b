"""A whole job as one file, to be kept elsewhere or carried to another bench.

The file is a zip of text that can be read without this program:

- `manifest.json`: `format` ("peakwright job"), `format_version`, `written_utc`, and `members`: for each other file its
  `bytes` and `sha256`. A file that is not listed does not count.
- `job.json`: what is said of the job, with its `notes` of where the alignment stood, `answers`, `remarks` and `photos`
  in order. `uid` is the job's name in every record. A note's `run` is the number of the run it came from; the number
  of runs is `runs`.
- `receiver.toml`: the receiver file that the job began with.
- `runs/001/run.json` and so on, in the order they were made: what was asked, with which instruments, how it ended, its
  figures in `result`, and the `events` that are no readings.
- `runs/001/readings.csv`: its readings, RFC 4180, one header line. `time_s` counts from the beginning of the run, whose
  `started_utc` is in `run.json`; `value` is in `unit`; an empty field stands for none.
- `photos/001.jpg` and so on: the photos as they were given.

Format 1 is the same, but that a figure says within its name or place when it was taken, and not in a field `when`; a
note made by a program of that time is still written so, and both are read. A figure of today names its `quantity` by
a key that stays, with its `sense`, what it is held against in `of`, and its `mark` on the dial; one without is read by
its name and unit.

JSON is UTF-8; times of day are ISO 8601 in UTC; units stand in the names.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

FORMAT: Literal["peakwright job"] = "peakwright job"
FORMAT_VERSION = 2

MANIFEST = "manifest.json"
JOB = "job.json"
RECEIVER = "receiver.toml"

READING_COLUMNS = (
    "index",
    "seq",
    "time_s",
    "role",
    "purpose",
    "value",
    "unit",
    "mark",
    "frequency_hz",
    "power_dbm",
    "level_db",
    "used",
)
SUFFIXES = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}

LARGEST_JSON_BYTES = 8_000_000
LARGEST_READINGS_BYTES = 40_000_000
LARGEST_TEXT_BYTES = 64_000_000
LARGEST_JOB_BYTES = 500_000_000
MOST_MEMBERS = 20_000
"""Bounds of what a file may unfold to, far above what an alignment comes to: one run of 40 MB has 400,000 readings.

In order: a file of JSON or TOML, the readings of a run, all text together, and that with the photos.
"""

Moment = Annotated[str, StringConstraints(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$")]
"""A time of day as the record writes it."""


def run_folder(number: int) -> str:
    """Give the folder of a run; the first is 1."""
    return f"runs/{number:03d}"


def photo_file(number: int, media_type: str) -> str:
    """Give the place of a photo; the first is 1."""
    return f"photos/{number:03d}.{SUFFIXES[media_type]}"


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")


class Member(_Part):
    """One file of the zip."""

    bytes: int = Field(ge=0, le=LARGEST_READINGS_BYTES)
    sha256: str


class Manifest(_Part):
    """What the zip holds."""

    format: Literal["peakwright job"]
    format_version: int
    written_utc: Moment
    members: dict[str, Member] = Field(max_length=MOST_MEMBERS)


class ArchivedNote(_Part):
    """A note of where the alignment stood."""

    at_utc: Moment
    kind: str
    body: dict[str, Any]
    run: int | None = None


class ArchivedAnswer(_Part):
    """A question with its answer."""

    at_utc: Moment
    asked: dict[str, Any]
    answer: str


class ArchivedRemark(_Part):
    """A remark."""

    at_utc: Moment
    step_id: str | None
    text: str


class ArchivedPhoto(_Part):
    """A photo, without its bytes."""

    at_utc: Moment
    step_id: str | None
    name: str
    media_type: str


class JobHeader(_Part):
    """What is said of a job as a whole, but its receiver file."""

    uid: Annotated[str, StringConstraints(min_length=1, max_length=64)]
    started_utc: Moment
    ended_utc: Moment | None
    state: Literal["open", "paused", "done"]
    receiver_id: str
    receiver_name: str
    mode: str
    seed: int | None
    owner: str
    make: str
    serial: str
    operator: str
    room_temperature_c: float | None
    calibration_note: str
    instruments: list[dict[str, Any]]
    remark: str


class ArchivedJob(JobHeader):
    """The content of `job.json`."""

    runs: int = Field(ge=0, le=MOST_MEMBERS)
    notes: list[ArchivedNote]
    answers: list[ArchivedAnswer]
    remarks: list[ArchivedRemark]
    photos: list[ArchivedPhoto]


class ArchivedEvent(BaseModel):
    """An event: its place in the run, its kind, and its own fields."""

    model_config = ConfigDict(frozen=True, extra="allow")

    seq: int
    kind: str


class ArchivedRun(_Part):
    """The content of a `run.json`."""

    started_utc: Moment
    ended_utc: Moment | None
    mode: str
    target: str
    target_name: str
    receiver: str
    settings: dict[str, Any]
    instruments: list[dict[str, Any]]
    ending: str | None
    ending_text: str | None
    output_off: bool | None
    result: dict[str, Any] | None
    step_id: str | None
    phase: str | None
    way: str | None
    events: list[ArchivedEvent]


ArchivedReading = tuple[
    int, int, float, str, str, float | None, str, str, float | None, float | None, float | None, bool | None
]
"""One line of a `readings.csv`, in its columns' order: a bare tuple, for a job may have hundreds of thousands."""
