"""Whole jobs as files, to carry to another bench; and a receiver's figures over the years."""

import asyncio
from collections.abc import Iterator
from tempfile import SpooledTemporaryFile
from typing import Annotated, BinaryIO, cast

from fastapi import APIRouter, Query, Request
from fastapi.responses import JSONResponse, StreamingResponse

from server.errors import TooLarge
from server.records.archive import LARGEST_JOB_BYTES
from server.records.job_export import export_job, job_file_name
from server.records.job_import import import_job
from server.routes.parts import Named, ServiceDep

IN_MEMORY_BYTES = 8_000_000
"""A larger file goes to disk meanwhile."""

PIECE_BYTES = 1 << 16

router = APIRouter(prefix="/api")


@router.get("/jobs/{job_id}/job.zip", response_model=None)
def job_as_file(job_id: int, service: ServiceDep) -> StreamingResponse:
    """Give a whole job as one file."""
    name = job_file_name(service.store.job_header(job_id))
    file = cast("BinaryIO", SpooledTemporaryFile(IN_MEMORY_BYTES))  # noqa: SIM115 - closed once it has been sent
    try:
        export_job(service.store, job_id, file)
    except BaseException:
        file.close()
        raise
    size = file.tell()
    file.seek(0)
    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Content-Length": str(size)}
    return StreamingResponse(_pieces(file), media_type="application/zip", headers=headers)


@router.post("/jobs/import", status_code=201, dependencies=[Named])
async def take_job_in(request: Request, service: ServiceDep) -> dict[str, int]:
    """Enter the job of a file in the record: the file itself is the body."""
    with SpooledTemporaryFile(IN_MEMORY_BYTES) as file:
        size = 0
        async for piece in request.stream():
            size += len(piece)
            if size > LARGEST_JOB_BYTES:
                raise TooLarge(f"The file has more than {LARGEST_JOB_BYTES // 1_000_000} MB; no job does.")
            file.write(piece)
        file.seek(0)
        job_id = await asyncio.to_thread(import_job, service.store, cast("BinaryIO", file))
    service.jobs.changed(job_id)
    return {"id": job_id}


@router.get("/history", response_model=None)
def history(
    service: ServiceDep,
    receiver_id: str,
    serial: Annotated[str | None, Query(max_length=2000)] = None,
    since: Annotated[str | None, Query(max_length=40)] = None,
    until: Annotated[str | None, Query(max_length=40)] = None,
) -> JSONResponse:
    """Give the figures measured on receivers of this kind, or on the one with this serial, oldest first.

    Of many jobs those of some, spread evenly: `jobs` says how many fit, and `jobs_shown` how many are told of.
    """
    found = service.store.history(receiver_id, serial or None, since_utc=since or None, until_utc=until or None)
    content = {"figures": found.figures, "jobs": found.jobs, "jobs_shown": found.jobs_shown}
    return JSONResponse(content)  # as it is: looking at each of thousands of rows takes longer than finding them


def _pieces(file: BinaryIO) -> Iterator[bytes]:
    with file:
        while piece := file.read(PIECE_BYTES):
            yield piece
