"""Voltmeters."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from drivers.dialect import MeterDialect, Way
from drivers.instrument import DEFAULT_TIMEOUT_S, Instrument
from drivers.roles import Known, RoleDriver, choose_model, choose_way, closing_on_error, open_instrument, wrong_role
from drivers.transport import Transport, VisaTransport

if TYPE_CHECKING:
    from collections.abc import Callable

    from drivers.dialect import Model


class Meter(RoleDriver):
    """A multimeter set to DC or AC volts."""

    role = "meter"

    def __init__(self, instrument: Instrument, way: Way) -> None:
        super().__init__(instrument)
        self._way = way
        instrument.when_reopened(self._configure)

    def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> float:
        """Take one reading, in volts, and carry something out while the meter is at work. That must not raise.

        Raises:
            OverloadError, NotANumberError: The meter answered with a mark.
            TransportError, ReplyError: The reading was lost; it may be asked for again.
            InstrumentError: The meter refused.
        """
        return self._instrument.query_number(self._way.read, meanwhile=meanwhile)

    def _configure(self) -> None:
        if self._way.configure is not None:
            self._instrument.command(self._way.configure)


def open_meter(
    address: str,
    *,
    function: str = "dc",
    timeout_s: float = DEFAULT_TIMEOUT_S,
    models: tuple[Model, ...] | None = None,
    dialect: str | None = None,
    baud: int | None = None,
) -> Meter:
    """Open the meter at a VISA address. `function` is "dc" or "ac".

    Raises:
        DriverError: Its text says what is wrong.
        DialectError: There is no dialect of that name.
    """
    return meter_on(
        VisaTransport(address, baud=baud), function=function, timeout_s=timeout_s, models=models, dialect=dialect
    )


def meter_on(
    transport: Transport,
    *,
    function: str = "dc",
    timeout_s: float = DEFAULT_TIMEOUT_S,
    models: tuple[Model, ...] | None = None,
    dialect: str | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Meter:
    """Open the meter at the far end of a transport."""
    known = Known(models, dialect)
    instrument = open_instrument(transport, known, timeout_s=timeout_s, clock=clock)
    with closing_on_error(instrument):
        model, _ = choose_model(instrument, Meter.role, known)
        words = model.meter or MeterDialect()
        ways = words.ways.get(function)
        if ways is None:
            raise wrong_role(instrument, Meter.role, f"it does not measure {function!r} volts")
        for message in words.at_open:
            instrument.command(message)
        return Meter(instrument, choose_way(instrument, Meter.role, ways))
