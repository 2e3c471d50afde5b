"""The receivers this bench knows, and what aligning each of them takes."""

from typing import Any

from fastapi import APIRouter

from sequences.kinds import alignment_plan
from server.api.plan_views import plan_view, receiver_view
from server.routes.parts import ServiceDep

router = APIRouter(prefix="/api/receivers")


@router.get("")
def list_receivers(service: ServiceDep) -> list[dict[str, Any]]:
    """List the receivers, those that ship first."""
    return [receiver_view(one.receiver) for one in service.receivers]


@router.get("/{receiver_id}/plan")
def read_plan(receiver_id: str, service: ServiceDep) -> dict[str, Any]:
    """Give the steps of one receiver, in the order they are done."""
    receiver = service.receivers[receiver_id].receiver
    return plan_view(receiver, alignment_plan(receiver))
