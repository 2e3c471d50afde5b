"""Reports: a job as HTML, to be read at once, and as PDF, to be taken away."""

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Query, Response

from server.report.files import paper_named
from server.report.html import html_report
from server.report.pdf import pdf_report
from server.report.report import make_report
from server.routes.parts import ServiceDep, attachment

router = APIRouter(prefix="/api/jobs/{job_id}")


@router.get("/report.html")
def report_as_html(job_id: int, service: ServiceDep) -> Response:
    """Give the report as one HTML file, which needs nothing else to be read."""
    report = make_report(service.store, job_id, datetime.now(UTC))
    return attachment(html_report(report), "text/html; charset=utf-8", f"{report.file_stem}.html", opens=True)


@router.get("/report.pdf")
def report_as_pdf(job_id: int, service: ServiceDep, paper: Annotated[str, Query(max_length=20)] = "a4") -> Response:
    """Give the report as PDF, for A4 or, with `?paper=letter`, for Letter. Set in a thread: nobody else waits."""
    sheets = paper_named(paper)
    now = datetime.now(UTC)
    report = make_report(service.store, job_id, now)
    return attachment(pdf_report(report, sheets, now), "application/pdf", f"{report.file_stem}.pdf")
