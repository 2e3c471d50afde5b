"""What a person adds to a job: remarks and photos, of a step or of the whole job.

Anybody with a name may: none of it touches the bench, and the phone that takes a photo is seldom the page that
operates.
"""

import asyncio
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from server.api.job_orders import RemarkOrder
from server.api.service import Service
from server.errors import TooLarge
from server.pictures import LARGEST_PHOTO_BYTES, kind_of_picture
from server.routes.parts import Named, ServiceDep

router = APIRouter(prefix="/api")

PhotoName = Annotated[str, Query(max_length=200)]


@router.post("/jobs/{job_id}/remarks", status_code=201, dependencies=[Named])
def remark_on_job(job_id: int, order: RemarkOrder, service: ServiceDep) -> dict[str, int]:
    """Add a remark on the whole job."""
    return {"id": _remark(service, job_id, None, order.text)}


@router.post("/jobs/{job_id}/steps/{step_id}/remarks", status_code=201, dependencies=[Named])
def remark_on_step(job_id: int, step_id: str, order: RemarkOrder, service: ServiceDep) -> dict[str, int]:
    """Add a remark on a step."""
    return {"id": _remark(service, job_id, step_id, order.text)}


@router.post("/jobs/{job_id}/photos", status_code=201, dependencies=[Named])
async def photo_of_job(job_id: int, request: Request, service: ServiceDep, name: PhotoName = "") -> dict[str, int]:
    """Add a photo of the whole job: the picture itself is the body."""
    return {"id": await asyncio.to_thread(_photo, service, job_id, None, name, await _picture(request))}


@router.post("/jobs/{job_id}/steps/{step_id}/photos", status_code=201, dependencies=[Named])
async def photo_of_step(
    job_id: int, step_id: str, request: Request, service: ServiceDep, name: PhotoName = ""
) -> dict[str, int]:
    """Add a photo of a step: the picture itself is the body."""
    return {"id": await asyncio.to_thread(_photo, service, job_id, step_id, name, await _picture(request))}


@router.get("/photos/{photo_id}")
def read_photo(photo_id: int, service: ServiceDep) -> Response:
    """Give a photo."""
    photo = service.store.photo_content(photo_id)
    return Response(photo.content, media_type=photo.media_type)


async def _picture(request: Request) -> bytes:
    """Read a body of bounded length: what is longer is not read to its end."""
    content = bytearray()
    async for piece in request.stream():
        content += piece
        if len(content) > LARGEST_PHOTO_BYTES:
            raise TooLarge(f"A photo may have at most {LARGEST_PHOTO_BYTES // 1_000_000} MB; make it smaller.")
    return bytes(content)


def _remark(service: Service, job_id: int, step_id: str | None, text: str) -> int:
    service.jobs.require_step(job_id, step_id)
    remark_id = service.store.remark(job_id, step_id, text)
    service.jobs.changed(job_id)
    return remark_id


def _photo(service: Service, job_id: int, step_id: str | None, name: str, content: bytes) -> int:
    service.jobs.require_step(job_id, step_id)
    photo_id = service.store.photo(job_id, step_id, name or "photo", kind_of_picture(content), content)
    service.jobs.changed(job_id)
    return photo_id
