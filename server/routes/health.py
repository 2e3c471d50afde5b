"""Whether all is well, for programs that watch over programs. It tells nothing that anybody may not know."""

from importlib.metadata import version
from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel

from server.api.guard import HEALTH
from server.errors import StoreError
from server.routes.parts import ServiceDep

router = APIRouter()


class Health(BaseModel):
    """How the service, its bench and its record stand."""

    status: Literal["ok", "trouble"]
    version: str
    bench: Literal["ready", "incomplete"]
    output: Literal["on", "off", "unknown"]
    output_alarm: bool
    record: Literal["ok", "trouble"]


@router.get(HEALTH)
def health(service: ServiceDep) -> Health:
    """Tell whether all is well; no token is asked for."""
    view = service.worker.view()
    ready = bool(view.instruments) and all(each["state"] == "ready" for each in view.instruments)
    alarm = view.output_alarm is not None
    record = _record(service)
    return Health(
        status="ok" if ready and not alarm and record == "ok" else "trouble",
        version=version("peakwright"),
        bench="ready" if ready else "incomplete",
        output="unknown" if view.output_on is None else "on" if view.output_on else "off",
        output_alarm=alarm,
        record=record,
    )


def _record(service: ServiceDep) -> Literal["ok", "trouble"]:
    try:
        service.store.check()
    except StoreError:
        return "trouble"
    return "ok"
