"""The practice bench under the person's hands. On a bench of instruments there is nothing here."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field

from server.practice.floor import PracticeFloor
from server.routes.parts import Operating, ServiceDep

MOST_TURNS = 50.0
"""In one request; more than any travel."""

router = APIRouter(prefix="/api/practice")


def _floor(service: ServiceDep) -> PracticeFloor:
    return service.practice


Floor = Annotated[PracticeFloor, Depends(_floor)]


class _Body(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class TurnOrder(_Body):
    """The body of `POST /api/practice/turn`; clockwise is positive."""

    adjuster: str
    turns: Annotated[float, Field(ge=-MOST_TURNS, le=MOST_TURNS)]


class SetOrder(_Body):
    """The body of `POST /api/practice/set`."""

    control: str
    to: float | str


class ConnectOrder(_Body):
    """The body of `POST /api/practice/connect`; to null takes the lead off."""

    role: str
    to: str | None = None
    through: str | None = None


class DoOrder(_Body):
    """The body of `POST /api/practice/do`: the number of the question."""

    number: int


class ReseedOrder(_Body):
    """The body of `POST /api/practice/reseed`."""

    seed: Annotated[int, Field(ge=0, le=2**31 - 1)]
    receiver_id: str


@router.get("")
def practice_state(floor: Floor) -> dict[str, Any]:
    """Tell what stands on the practice bench: leads, controls, adjusters with the turns made so far."""
    return floor.describe()


@router.post("/turn", dependencies=[Operating])
def turn(order: TurnOrder, floor: Floor) -> dict[str, float]:
    """Turn an adjuster."""
    return {"moved_turns": floor.turn(order.adjuster, order.turns)}


@router.post("/set", dependencies=[Operating])
def set_control(order: SetOrder, floor: Floor) -> dict[str, Any]:
    """Set a control."""
    floor.set_control(order.control, order.to)
    return {"control": order.control, "to": order.to}


@router.post("/connect", dependencies=[Operating])
def connect(order: ConnectOrder, floor: Floor) -> dict[str, Any]:
    """Move a lead, or take it off."""
    floor.connect(order.role, order.to, order.through)
    return {"role": order.role, "to": order.to, "through": order.through}


@router.post("/do", dependencies=[Operating])
def do_for_me(order: DoOrder, floor: Floor, service: ServiceDep) -> dict[str, str]:
    """Do what the question of this number asks, and answer it."""
    answer = floor.carry_out(service.jobs.question(order.number))
    service.jobs.answer(order.number, answer)
    return {"answer": answer}


@router.get("/truth")
def truth(floor: Floor) -> dict[str, Any]:
    """Give everything about the simulated receiver as it stands."""
    return floor.truth()


@router.post("/reseed", dependencies=[Operating])
def reseed(order: ReseedOrder, floor: Floor, service: ServiceDep) -> dict[str, Any]:
    """Put a new misaligned receiver on the bench; only while nothing is on."""
    service.worker.require_idle()
    floor.reseed(order.seed, order.receiver_id)
    return floor.describe()
