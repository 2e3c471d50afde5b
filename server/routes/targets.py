"""What can be scanned."""

from typing import Any

from fastapi import APIRouter

from server.routes.parts import ServiceDep

router = APIRouter(prefix="/api")


@router.get("/targets")
def targets(service: ServiceDep) -> list[Any]:
    """List the targets of every receiver this bench knows."""
    return service.targets.to_plain()
