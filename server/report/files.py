"""The report of a job as files, for the command line."""

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from server.errors import OrderRefused, ReportError, StoreError
from server.records.place import record_place
from server.records.store import Store
from server.report.content import Report
from server.report.html import html_report
from server.report.pdf import Paper, pdf_report
from server.report.report import make_report
from server.settings import Mode, default_store_path


@dataclass(frozen=True, slots=True)
class ReportOrder:
    """What the command line asked for. Without either file both are written, by their own names."""

    job_id: int
    html: Path | None
    pdf: Path | None
    paper: str
    mode: Mode
    store: str | Path | None


def write_report(order: ReportOrder) -> tuple[Path, ...]:
    """Write the files, and name them.

    Raises:
        OrderRefused: there is no such paper.
        UnknownThing: there is no such job.
        StoreError: there is no record, or it cannot be read.
        ReportError: a file cannot be written.
    """
    paper = paper_named(order.paper)
    now = datetime.now(UTC)
    report = _report(order, now)
    both = order.html is None and order.pdf is None
    html = Path(f"{report.file_stem}.html") if both else order.html
    pdf = Path(f"{report.file_stem}.pdf") if both else order.pdf
    if html is not None:
        _write(html, html_report(report).encode())
    if pdf is not None:
        _write(pdf, pdf_report(report, paper, now))
    return tuple(path for path in (html, pdf) if path is not None)


def paper_named(name: str) -> Paper:
    """Give the paper of a name.

    Raises:
        OrderRefused: there is none.
    """
    try:
        return Paper(name.lower())
    except ValueError:
        raise OrderRefused(f"'{name}' is no paper a report is set for; give a4 or letter.") from None


def _report(order: ReportOrder, now: datetime) -> Report:
    where = order.store or default_store_path(order.mode)
    file = record_place(where).file
    if file is not None and not file.exists():
        raise StoreError(f"There is no record at {file}; give the right --store, or --practice for practice jobs.")
    store = Store(where)
    try:
        return make_report(store, order.job_id, now)
    finally:
        store.close()


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise ReportError(f"{path} cannot be written ({error.strerror}); give another name.") from error
