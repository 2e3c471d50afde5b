"""The bench: how it stands, looking again, stopping, switching off, and who operates it."""

from typing import Any

from fastapi import APIRouter

from server.routes.parts import Client, Named, Operating, Sender, ServiceDep

LOOK_LONGEST_S = 60.0

router = APIRouter(prefix="/api")


@router.get("/bench")
def bench_state(service: ServiceDep, client: Client) -> dict[str, Any]:
    """Tell how the bench stands."""
    return service.bench_for(client)


@router.post("/bench/look", dependencies=[Operating])
def look_again(service: ServiceDep, client: Client) -> dict[str, Any]:
    """Look again for missing instruments, and tell how the bench then stands."""
    service.worker.look(LOOK_LONGEST_S)
    return service.bench_for(client)


@router.post("/stop", dependencies=[Operating])
def stop(service: ServiceDep, client: Client) -> dict[str, Any]:
    """Ask the run to end; it does so within one reading."""
    service.worker.stop()
    return service.bench_for(client)


@router.post("/output-off", dependencies=[Named])
def output_off(service: ServiceDep, sender: Sender) -> dict[str, Any]:
    """Stop the run and switch the source off at once. Anybody may: safety asks for no seat."""
    service.worker.output_off()
    return service.bench_for(sender)


@router.post("/operator/take")
def take_over(service: ServiceDep, sender: Sender) -> dict[str, Any]:
    """Become the operator, whoever it was before."""
    service.take_over(sender)
    return service.bench_for(sender)
