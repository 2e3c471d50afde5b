"""Writes a whole job as one file; `archive.py` says what is in it."""

import csv
import hashlib
import io
import json
from collections.abc import Callable
from datetime import datetime
from typing import Any, BinaryIO
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from server.records.archive import (
    FORMAT,
    FORMAT_VERSION,
    JOB,
    MANIFEST,
    READING_COLUMNS,
    RECEIVER,
    ArchivedJob,
    ArchivedRun,
    photo_file,
    run_folder,
)
from server.records.database import Row, stamp, utc_now
from server.records.store import Store


def export_job(store: Store, job_id: int, file: BinaryIO, now: Callable[[], datetime] = utc_now) -> None:
    """Write a job into an open file; it is read one run at a time.

    Raises:
        UnknownThing: there is no such job.
        StoreError: the record cannot be read.
        OSError: the file cannot be written.
    """
    job = store.job(job_id)
    with ZipFile(file, "w", ZIP_DEFLATED) as archive:
        members = _Members(archive)
        members.add(JOB, _json(_job_content(job)))
        members.add(RECEIVER, job["receiver_file"].encode())
        for number, summary in enumerate(job["runs"], 1):
            run = store.run(summary["id"])
            members.add(f"{run_folder(number)}/run.json", _json(_run_content(run)))
            members.add(f"{run_folder(number)}/readings.csv", _readings_csv(run).encode())
        for number, photo in enumerate(job["photos"], 1):
            members.add(photo_file(number, photo["media_type"]), store.photo_content(photo["id"]).content)
        manifest = {
            "format": FORMAT,
            "format_version": FORMAT_VERSION,
            "written_utc": stamp(now()),
            "members": members.listed,
        }
        members.add(MANIFEST, _json(manifest))


def job_file_name(job: Row) -> str:
    """Name the file by day, receiver and number, in letters every file system takes."""
    return f"{job['started_utc'][:10]}-{job['receiver_id']}-job-{job['id']}.zip"


class _Members:
    """The files of the zip, each with its size and digest as it is added."""

    def __init__(self, archive: ZipFile) -> None:
        self._archive = archive
        self.listed: dict[str, dict[str, Any]] = {}

    def add(self, name: str, content: bytes) -> None:
        """Add a file."""
        self.listed[name] = {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        info = ZipInfo(name)  # of no date, so that the same job gives the same files
        info.compress_type = ZIP_DEFLATED
        self._archive.writestr(info, content)


def _job_content(job: Row) -> Row:
    numbers = {run["id"]: number for number, run in enumerate(job["runs"], 1)}
    notes = [{**note, "run": numbers.get(note["run_id"])} for note in job["notes"]]
    return ArchivedJob.model_validate({**job, "notes": notes, "runs": len(numbers)}).model_dump()


def _run_content(run: Row) -> Row:
    return ArchivedRun.model_validate(run).model_dump()


def _readings_csv(run: Row) -> str:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(READING_COLUMNS)
    for reading in run["readings"]:
        writer.writerow([_cell(reading[name]) for name in READING_COLUMNS])
    return text.getvalue()


def _cell(value: object) -> object:
    """Write a number so that reading it back gives the same number; none as nothing."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return repr(value) if isinstance(value, float) else value


def _json(content: Row) -> bytes:
    return json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False).encode()
