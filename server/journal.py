"""The journal of one alignment: what was asked, read and found, on disk before anybody sees it.

One file a job, beside the record: `RECORD-align-RECEIVER-TIME.jsonl`. Each line is one JSON object with `kind` and
`at_utc`:

- `JobBegan`: the first line; receiver, mode, the seed of a practice bench, and the version of this format;
- `StepBegun`, `StepMeasured`, `StepDecided`, `StepLeft`: the notes of `sequences.alignment`, which alone say where the
  alignment stands;
- `Answered`: a question to the person and its answer;
- `Event`: what a run emitted, without its progress and the fits it showed on the way;
- `JobEnded`: the last line of an alignment that came to its end.

A line that a crash cut short is dropped when the journal is opened again: nobody has seen what it says.
"""

import json
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Self

from pydantic import BaseModel, ConfigDict, TypeAdapter, ValidationError

from sequences.alignment.progress import Note, StepBegun, StepDecided, StepLeft, StepMeasured
from sequences.engine.events import Asked, Event, Guidance, PartialFit, Progress
from server.errors import JournalError
from server.plain import event_to_plain, to_plain

FORMAT = 1
SHOWN_ONLY = (Progress, PartialFit, Guidance)
"""Events that can be made again from the readings, and are not kept."""

NOTES: dict[str, type] = {note.__name__: note for note in (StepBegun, StepMeasured, StepDecided, StepLeft)}


class JobBegan(BaseModel):
    """The first line of a journal."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    receiver_id: str
    mode: str
    seed: int | None = None
    format: int = FORMAT


@dataclass(frozen=True, slots=True)
class Answered:
    """A question and its answer."""

    asked: Asked
    answer: str


@dataclass(frozen=True, slots=True)
class Kept:
    """What an opened journal holds: how the job began, its notes and answers in order, and whether it ended."""

    job: JobBegan
    notes: tuple[Note, ...]
    answers: tuple[Answered, ...]
    ended: bool


class Journal:
    """One journal file, open for more lines. Each is on disk when the method that writes it returns."""

    def __init__(self, path: Path, *, now: Callable[[], datetime]) -> None:
        """Open the file, or make it, and drop a line that was cut short. `now` is the time of day.

        Raises:
            JournalError: it cannot be written.
        """
        self.path = path
        self._now = now
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            _drop_torn_line(path)
            self._file = path.open("a", encoding="utf-8")
        except OSError as error:
            raise _unwritable(path, error) from error

    def __enter__(self) -> Self:
        """Write."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let go of the file."""
        self._file.close()

    def begin(self, job: JobBegan) -> None:
        """Keep how the job began."""
        self._write("JobBegan", job.model_dump())

    def note(self, note: Note) -> None:
        """Keep a note of where the alignment stands."""
        plain = TypeAdapter(type(note)).dump_python(note, mode="json")
        self._write(type(note).__name__, _spell_infinities(plain))

    def answered(self, asked: Asked, answer: str) -> None:
        """Keep an answer with its question."""
        self._write("Answered", {"asked": to_plain(asked), "answer": answer})

    def event(self, event: Event) -> None:
        """Keep what a run emitted."""
        if not isinstance(event, SHOWN_ONLY):
            self._write("Event", {"event": event_to_plain(event)})

    def end(self) -> None:
        """Keep that the alignment came to its end."""
        self._write("JobEnded", {})

    def _write(self, kind: str, content: dict[str, Any]) -> None:
        stamp = self._now().isoformat(timespec="milliseconds").replace("+00:00", "Z")
        line = json.dumps({"kind": kind, "at_utc": stamp, **content}, ensure_ascii=False, allow_nan=False)
        try:
            self._file.write(f"{line}\n")
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as error:
            raise _unwritable(self.path, error) from error


def read_journal(path: Path) -> Kept:
    """Read a journal back.

    Raises:
        JournalError: it cannot be read, or holds what no journal holds; the sentence names the line.
    """
    job: JobBegan | None = None
    notes: list[Note] = []
    answers: list[Answered] = []
    ended = False
    for number, line in _lines(path):
        try:
            kind = line["kind"]
            if kind == "JobBegan":
                job = JobBegan.model_validate(line)
            elif kind in NOTES:
                notes.append(TypeAdapter(NOTES[kind]).validate_python(_content(line)))
            elif kind == "Answered":
                answers.append(TypeAdapter(Answered).validate_python(_content(line)))
            ended = kind == "JobEnded"
        except (KeyError, TypeError, ValidationError) as error:
            raise _no_journal(path, number) from error
    if job is None or job.format > FORMAT:
        raise _no_journal(path, 1)
    return Kept(job, tuple(notes), tuple(answers), ended)


def journal_path(store_path: Path, receiver_id: str, began: datetime) -> Path:
    """Give the place of a new journal, beside the record."""
    return store_path.with_name(f"{_stem(store_path, receiver_id)}{began:%Y%m%dT%H%M%S%f}.jsonl")


def latest_journal(store_path: Path, job: JobBegan) -> tuple[Path, Kept] | None:
    """Find the latest journal of the same receiver, mode and seed; None where there is none.

    Raises:
        JournalError: one that may be it cannot be read.
    """
    for path in sorted(store_path.parent.glob(f"{_stem(store_path, job.receiver_id)}*.jsonl"), reverse=True):
        kept = read_journal(path) if b"\n" in path.read_bytes() else None
        if kept is not None and kept.job == job:
            return path, kept
    return None


def _stem(store_path: Path, receiver_id: str) -> str:
    return f"{store_path.stem}-align-{receiver_id}-"


def _lines(path: Path) -> Iterator[tuple[int, dict[str, Any]]]:
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise _no_journal(path, 1) from error
    for number, line in enumerate(text.split("\n")[:-1], 1):
        try:
            yield number, json.loads(line)
        except ValueError as error:
            raise _no_journal(path, number) from error


def _content(line: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in line.items() if key not in {"kind", "at_utc"}}


def _drop_torn_line(path: Path) -> None:
    if not path.exists():
        return
    content = path.read_bytes()
    whole = content.rfind(b"\n") + 1
    if whole < len(content):
        with path.open("r+b") as file:
            file.truncate(whole)


def _spell_infinities(plain: Any) -> Any:  # noqa: ANN401 - JSON
    """Write what JSON has no number for as a word: an uncertainty may be without bound."""
    if isinstance(plain, dict):
        return {key: _spell_infinities(value) for key, value in plain.items()}
    if isinstance(plain, list):
        return [_spell_infinities(value) for value in plain]
    finite = not isinstance(plain, float) or abs(plain) < float("inf")
    return plain if finite else str(plain)


def _unwritable(path: Path, error: OSError) -> JournalError:
    return JournalError(f"The journal {path} cannot be written ({error.strerror}); give another --store.")


def _no_journal(path: Path, line: int) -> JournalError:
    return JournalError(f"{path}: line {line} is not of an alignment this program can go on with; move the file away.")
