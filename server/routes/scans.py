"""Scans: start one, list them, read one again."""

from typing import Any

from fastapi import APIRouter

from server.api.scan_orders import ScanOrder
from server.api.scan_views import scan_summary, scan_view
from server.routes.parts import Operating, ServiceDep

router = APIRouter(prefix="/api/scans")


@router.post("", status_code=201, dependencies=[Operating])
def start_scan(order: ScanOrder, service: ServiceDep) -> dict[str, int]:
    """Start a scan."""
    return {"id": service.start_scan(order)}


@router.get("")
def list_scans(service: ServiceDep) -> list[dict[str, Any]]:
    """List the scans, newest first."""
    return [scan_summary(run) for run in service.store.runs()]


@router.get("/{scan_id}")
def read_scan(scan_id: int, service: ServiceDep) -> dict[str, Any]:
    """Read one scan, as far as it has come."""
    return scan_view(service.store.run(scan_id))
