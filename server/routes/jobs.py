"""Jobs: list, begin, describe, change; their steps: begin, leave."""

from typing import Annotated, Any

from fastapi import APIRouter, Query

from server.api.job_orders import BeginOrder, JobChange, JobOrder, LeaveOrder
from server.routes.parts import Operating, ServiceDep

router = APIRouter(prefix="/api/jobs")


@router.get("")
def list_jobs(
    service: ServiceDep,
    receiver_id: str | None = None,
    text: str | None = None,
    step: str | None = None,
    verdict: str | None = None,
    since: Annotated[str | None, Query(max_length=40)] = None,
    until: Annotated[str | None, Query(max_length=40)] = None,
) -> list[dict[str, Any]]:
    """List the jobs that fit, newest first."""
    return service.store.jobs(
        receiver_id=receiver_id or None,
        text=text or None,
        step=step or None,
        verdict=verdict or None,
        since_utc=since or None,
        until_utc=until or None,
    )


@router.post("", status_code=201, dependencies=[Operating])
def begin_job(order: JobOrder, service: ServiceDep) -> dict[str, int]:
    """Begin a job."""
    return {"id": service.jobs.create(order)}


@router.get("/{job_id}")
def read_job(job_id: int, service: ServiceDep) -> dict[str, Any]:
    """Read a job with all its steps."""
    return service.jobs.view(job_id)


@router.patch("/{job_id}", dependencies=[Operating])
def change_job(job_id: int, change: JobChange, service: ServiceDep) -> dict[str, Any]:
    """Change what is said of a job, and read it."""
    service.jobs.change(job_id, change)
    return service.jobs.view(job_id)


@router.post("/{job_id}/steps/{step_id}/begin", status_code=202, dependencies=[Operating])
def begin_step(job_id: int, step_id: str, order: BeginOrder, service: ServiceDep) -> dict[str, Any]:
    """Begin a step, or go on with it where it was; `told` says that the job was taken over, where it was."""
    told = service.jobs.begin(job_id, step_id, order)
    return {"job": job_id, "step": step_id, "told": told}


@router.post("/{job_id}/steps/{step_id}/leave", dependencies=[Operating])
def leave_step(job_id: int, step_id: str, order: LeaveOrder, service: ServiceDep) -> dict[str, Any]:
    """Leave a step as it is, and read the job."""
    service.jobs.leave(job_id, step_id, order.reason)
    return service.jobs.view(job_id)
