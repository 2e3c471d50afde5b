"""Instruments on scpipy, an SCPI server that is not ours: its parser, its short forms, its error queue, its sockets.

scpipy 1.5.1 drops the replies of a whole message when one of its parts is refused, as IEEE 488.2 allows; it names an
unknown header -110. An exception in a handler drops the connection.
"""

from __future__ import annotations

import asyncio
import threading
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from scpipy.server import Router, Server
from scpipy.shared.errors import DefaultScpiErrors, ScpiException

from tests.drivers.peers import wait_until

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Callable, Iterator

_HIGHEST_HZ = 1e9


@dataclass
class Signal:
    """What flows from the source to the others."""

    frequency_hz: float = 1e6
    power_dbm: float = -20.0
    output_on: bool = True
    gate_s: float = 1.0

    def flows(self) -> bool:
        """Whether the output is on."""
        return self.output_on


def source_router(signal: Signal) -> Router:
    """A signal generator up to 1 GHz."""

    def set_frequency(value: str) -> None:
        if not 0 < float(value) <= _HIGHEST_HZ:
            raise ScpiException(DefaultScpiErrors.DATA_OUT_OF_RANGE.value)
        signal.frequency_hz = float(value)

    def set_power(value: str) -> None:
        number, unit = value.split()
        assert unit == "DBM"
        signal.power_dbm = float(number)

    def set_output(value: str) -> None:
        signal.output_on = {"ON": True, "OFF": False}[value]

    return _router(
        {
            "FREQuency[:CW] <value>": set_frequency,
            "POWer[:LEVel] <value>": set_power,
            "OUTPut[:STATe] <value>": set_output,
        },
        {
            "FREQuency[:CW]?": lambda: f"{signal.frequency_hz:.6E}",
            "POWer[:LEVel]?": lambda: f"{signal.power_dbm:.2f}",
            "OUTPut[:STATe]?": lambda: str(int(signal.output_on)),
        },
    )


def meter_router(reading: Callable[[], str]) -> Router:
    """A multimeter that can be configured for DC volts."""
    router = _router({}, {"READ?": reading, "MEASure:VOLTage:DC?": reading})
    router.add_route("CONFigure:VOLTage:DC", lambda context: None)  # noqa: ARG005 - it wants the parameter
    return router


def old_meter_router(reading: Callable[[], str]) -> Router:
    """A multimeter that knows no CONFigure."""
    return _router({}, {"MEASure:VOLTage:DC?": reading})


def counter_router(signal: Signal, *, has_gate: bool) -> Router:
    """A frequency counter, with or without a gate that can be set."""

    def set_gate(value: str) -> None:
        signal.gate_s = float(value)

    settings: dict[str, Callable[[str], None]] = {"SENSe:FREQuency:APERture <value>": set_gate} if has_gate else {}
    router = _router(settings, {"READ?": lambda: f"{signal.frequency_hz:.9E}"})
    router.add_route("CONFigure:FREQuency", lambda context: None)  # noqa: ARG005 - it wants the parameter
    return router


def _router(settings: dict[str, Callable[[str], None]], queries: dict[str, Callable[[], str]]) -> Router:
    router = Router()
    for header, setting in settings.items():
        router.add_route(header, _setting(setting))
    for header, query in queries.items():
        router.add_route(header, _query(query))
    return router


def _setting(setting: Callable[[str], None]) -> Callable[..., None]:
    def handler(context: Any, value: str) -> None:  # noqa: ANN401, ARG001 - the server is untyped
        setting(value)

    return handler


def _query(query: Callable[[], str]) -> Callable[..., str]:
    def handler(context: Any) -> str:  # noqa: ANN401, ARG001 - the server is untyped
        return query()

    return handler


@contextmanager
def serving(name: str, router: Router) -> Iterator[str]:
    """Run one instrument in a thread and give its VISA address."""
    loops: list[asyncio.AbstractEventLoop] = []

    @asynccontextmanager
    async def life(_: Server) -> AsyncIterator[None]:
        loops.append(asyncio.get_running_loop())
        yield

    # One error queue for all clients, as a real instrument has.
    server = Server("127.0.0.1", 0, shared_context=True, lifespan=life)
    server.include_router([_router({}, {"*IDN?": lambda: name}), router])
    thread = threading.Thread(target=server.run)
    thread.start()
    wait_until(lambda: server._server is not None)  # noqa: SLF001 - it does not tell its port otherwise
    port = server._server.sockets[0].getsockname()[1]  # noqa: SLF001
    try:
        yield f"TCPIP::127.0.0.1::{port}::SOCKET"
    finally:
        loops[0].call_soon_threadsafe(server.stop)
        thread.join()
