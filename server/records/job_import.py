"""Takes in a job that was written as one file; `archive.py` says what is in it.

Nothing is unpacked to disk: only files that the manifest lists are read, so whatever else the zip holds, whatever its
name, does nothing.
"""

import csv
import hashlib
import io
import struct
import zlib
from collections.abc import Iterator
from itertools import islice
from typing import BinaryIO, TypeVar
from zipfile import BadZipFile, ZipFile

from pydantic import BaseModel, TypeAdapter, ValidationError

from sequences.receiver.file import ReceiverFileError, receiver_from_text
from server.errors import ArchiveRefused, OrderRefused
from server.records.archive import (
    FORMAT_VERSION,
    JOB,
    LARGEST_JOB_BYTES,
    LARGEST_JSON_BYTES,
    LARGEST_TEXT_BYTES,
    MANIFEST,
    READING_COLUMNS,
    RECEIVER,
    ArchivedJob,
    ArchivedReading,
    ArchivedRun,
    Manifest,
    Member,
    photo_file,
    run_folder,
)
from server.records.attachments import check_photo
from server.records.intake import TakenJob, TakenRun
from server.records.store import Store

LARGEST_MANIFEST_BYTES = 8_000_000

PIECE = 4000
"""Readings that are checked and entered at a time: between two pieces others may write, a run that is on above all."""

PHOTOS = "photos/"

NO_ZIP = (BadZipFile, zlib.error, struct.error, EOFError, OSError, RuntimeError, ValueError)
"""All that the library raises of bytes that are no zip, or none that it knows."""

Part = TypeVar("Part", bound=BaseModel)


def import_job(store: Store, file: BinaryIO) -> int:
    """Enter the job of a file in the record and give its new number; all of it or nothing.

    Raises:
        ArchiveRefused: the file is no whole job, was written by a newer program, or is in the record already; the
            sentence says which.
        StoreError: the record cannot be written.
    """
    with _opened(file) as archive:
        return store.take_in(_read(_Members(archive)))


def _opened(file: BinaryIO) -> ZipFile:
    try:
        return ZipFile(file)
    except NO_ZIP as error:
        raise ArchiveRefused("The file is not a zip, or is cut short or damaged; export the job once more.") from error


class _Members:
    """The files that the manifest lists, each checked as it is read."""

    def __init__(self, archive: ZipFile) -> None:
        self._archive = archive
        manifest = _parse(Manifest, MANIFEST, self._bytes(MANIFEST, LARGEST_MANIFEST_BYTES))
        if manifest.format_version > FORMAT_VERSION:
            raise ArchiveRefused(
                f"The file is of format {manifest.format_version} and this program reads up to {FORMAT_VERSION}; "
                "import it with a newer Peakwright."
            )
        _check_sizes(manifest.members)
        self._listed = manifest.members
        for name in self._listed:  # all of it before anything is entered; one at a time, to be forgotten again
            self.read(name)

    def read(self, name: str) -> bytes:
        """Give a file as it was written."""
        member = self._listed.get(name)
        if member is None:
            raise ArchiveRefused(f"The file lacks {name}; export the job once more.")
        content = self._bytes(name, member.bytes)
        if hashlib.sha256(content).hexdigest() != member.sha256:
            raise _damaged(name)
        return content

    def _bytes(self, name: str, most: int) -> bytes:
        """Read no more than a file should have, whatever the zip says of it."""
        try:
            with self._archive.open(name) as member:
                content = member.read(most + 1)
        except KeyError as error:
            raise ArchiveRefused(f"The file lacks {name}; it is not a job, or not all of it.") from error
        except NO_ZIP as error:
            raise _damaged(name) from error
        if len(content) > most:
            raise _damaged(name)
        return content


def _check_sizes(members: dict[str, Member]) -> None:
    """Refuse what unfolds to more than any job, before anything of it is unfolded."""
    for name, member in members.items():
        if name.endswith((".json", ".toml")) and member.bytes > LARGEST_JSON_BYTES:
            raise ArchiveRefused(f"{name} unfolds to more than {LARGEST_JSON_BYTES // 1_000_000} MB; no job has that.")
    text = sum(member.bytes for name, member in members.items() if not name.startswith(PHOTOS))
    if text > LARGEST_TEXT_BYTES:
        raise ArchiveRefused(f"The text unfolds to more than {LARGEST_TEXT_BYTES // 1_000_000} MB; no job has that.")
    if sum(member.bytes for member in members.values()) > LARGEST_JOB_BYTES:
        raise ArchiveRefused(f"The file unfolds to more than {LARGEST_JOB_BYTES // 1_000_000} MB; no job has that.")


def _read(members: _Members) -> TakenJob:
    job = _parse(ArchivedJob, JOB, members.read(JOB))
    receiver = _text(RECEIVER, members.read(RECEIVER))
    try:
        receiver_from_text(receiver, RECEIVER)
    except ReceiverFileError as error:
        raise ArchiveRefused(f"The receiver file of this job cannot be used. {error}") from error
    return TakenJob(
        job=job,
        receiver_file=receiver,
        runs=(_read_run(members, run_folder(number)) for number in range(1, job.runs + 1)),
        photos=_photos(members, job),
    )


def _photos(members: _Members, job: ArchivedJob) -> Iterator[bytes]:
    for photo, place in zip(job.photos, _photo_places(job), strict=True):
        content = members.read(photo_file(*place))
        try:
            check_photo(photo.media_type, content)
        except OrderRefused as error:
            raise ArchiveRefused(str(error)) from error
        yield content


def _photo_places(job: ArchivedJob) -> list[tuple[int, str]]:
    places = [(number, photo.media_type) for number, photo in enumerate(job.photos, 1)]
    for number, media_type in places:
        try:
            photo_file(number, media_type)
        except KeyError as error:
            raise ArchiveRefused(f"Photo {number} is '{media_type}', which is not taken.") from error
    return places


def _read_run(members: _Members, folder: str) -> TakenRun:
    run = _parse(ArchivedRun, f"{folder}/run.json", members.read(f"{folder}/run.json"))
    name = f"{folder}/readings.csv"
    return TakenRun(run, _readings(name, members.read(name)))


def _readings(name: str, content: bytes) -> Iterator[list[ArchivedReading]]:
    """Give the readings a piece at a time, since all at once take a hundred times the room of their text."""
    lines = csv.reader(io.TextIOWrapper(io.BytesIO(content), encoding="utf-8", newline=""), strict=True)
    try:
        if tuple(next(lines, ())) != READING_COLUMNS:
            raise ArchiveRefused(f"{name} does not begin with the columns {', '.join(READING_COLUMNS)}.")
        while piece := [(lines.line_num, _cells(line)) for line in islice(lines, PIECE)]:
            yield _checked(name, piece)
    except UnicodeDecodeError as error:
        raise _damaged(name) from error
    except (csv.Error, ValueError) as error:
        raise _no_reading(name, lines.line_num) from error


def _cells(line: list[str]) -> list[str | None] | list[str]:
    """Give the cells of a line, those that are empty and may be as nothing."""
    if "" not in line:
        return line
    return [
        None if cell == "" and name in MAY_BE_NONE else cell for name, cell in zip(READING_COLUMNS, line, strict=True)
    ]


MAY_BE_NONE = frozenset({"value", "frequency_hz", "power_dbm", "level_db", "used"})
READINGS = TypeAdapter(list[ArchivedReading])


def _checked(name: str, piece: list[tuple[int, list[str | None] | list[str]]]) -> list[ArchivedReading]:
    try:
        return READINGS.validate_python([cells for _, cells in piece])
    except ValidationError as error:
        line, _ = piece[int(error.errors(include_url=False)[0]["loc"][0])]
        raise _no_reading(name, line) from error


def _no_reading(name: str, line: int) -> ArchiveRefused:
    return ArchiveRefused(f"{name}: line {line} is no reading.")


def _parse(kind: type[Part], name: str, content: bytes) -> Part:
    try:
        return kind.model_validate_json(content)
    except ValidationError as error:
        fault = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in fault["loc"])
        raise ArchiveRefused(f"{name} is not what a job has there ({where or 'the whole'}: {fault['msg']}).") from error


def _text(name: str, content: bytes) -> str:
    try:
        return content.decode()
    except UnicodeDecodeError as error:
        raise _damaged(name) from error


def _damaged(name: str) -> ArchiveRefused:
    return ArchiveRefused(f"The file is damaged: {name} is not as it was written; export the job once more.")
