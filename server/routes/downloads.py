"""Scans to take away: readings for a spreadsheet, everything as JSON."""

from fastapi import APIRouter, Response

from server.exports import file_stem, scan_csv, scan_json
from server.routes.parts import ServiceDep, attachment

router = APIRouter(prefix="/api/scans/{scan_id}")


@router.get("/readings.csv")
def readings_csv(scan_id: int, service: ServiceDep) -> Response:
    """Give the readings as one table with its header first; the settings stand beside every row."""
    run = service.store.run(scan_id)
    return attachment(scan_csv(run), "text/csv; charset=utf-8; header=present", f"{file_stem(run)}.csv")


@router.get("/scan.json")
def scan_as_json(scan_id: int, service: ServiceDep) -> Response:
    """Give the whole scan: settings, instruments with what they say they are, result and readings."""
    run = service.store.run(scan_id)
    return attachment(scan_json(run), "application/json", f"{file_stem(run)}.json")
