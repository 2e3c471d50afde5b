"""The person's part in a step that is on: answers, signals while an adjuster is turned, a run begun again."""

from typing import Any

from fastapi import APIRouter

from server.api.job_orders import AnswerOrder, SignalOrder
from server.routes.parts import Client, Operating, ServiceDep

router = APIRouter(prefix="/api")


@router.post("/answer", dependencies=[Operating])
def answer(order: AnswerOrder, service: ServiceDep, client: Client) -> dict[str, Any]:
    """Answer the question of this number, and tell how the bench then stands."""
    service.jobs.answer(order.number, order.answer)
    return service.bench_for(client)


@router.post("/signal", status_code=204, dependencies=[Operating])
def signal(order: SignalOrder, service: ServiceDep) -> None:
    """Signal: a step was made, it is done, or it cannot be."""
    service.jobs.signal(order.signal)


@router.post("/again", status_code=204, dependencies=[Operating])
def again(service: ServiceDep) -> None:
    """Begin the run of the step that is on again from its beginning; what it read until now is kept."""
    service.jobs.again()
