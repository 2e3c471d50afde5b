"""Frequency counters."""

from __future__ import annotations

import math
import time
from typing import TYPE_CHECKING

from drivers.dialect import CounterDialect, Way
from drivers.errors import InstrumentError, SettingError
from drivers.instrument import DEFAULT_TIMEOUT_S, Instrument
from drivers.roles import Known, RoleDriver, choose_model, choose_way, closing_on_error, open_instrument
from drivers.scpi import format_number
from drivers.transport import Transport, VisaTransport

if TYPE_CHECKING:
    from collections.abc import Callable

    from drivers.dialect import Model

# A counter waits for the first edge, counts, and works out the result.
_GATES_IN_DEADLINE = 2.0
_COMMAND_ERRORS = range(-199, -99)


class Counter(RoleDriver):
    """A frequency counter, its gate time set where it can be set."""

    role = "counter"

    def __init__(self, instrument: Instrument, ways: tuple[Way, ...], gate: str | None) -> None:
        """Begin with the first way, for which the instrument is configured; the others are for when it refuses."""
        super().__init__(instrument)
        way, *self._other_ways = ways
        self._way = way
        # A way that configures with each reading would undo the gate with each reading.
        self._gate = gate if way.configure is not None else None
        self._gate_s: float | None = None
        instrument.when_reopened(self._configure)

    @property
    def gate_can_be_set(self) -> bool:
        """Whether `gate_s` reaches the counter; if not, it counts for its own time."""
        return self._gate is not None

    def read_frequency(self, gate_s: float) -> float:
        """Count for `gate_s` seconds and give hertz.

        Raises:
            OverloadError, NotANumberError: The counter answered with a mark.
            SettingError: The gate time is not a time.
            TransportError, ReplyError: The reading was lost; it may be asked for again.
            InstrumentError: The counter refused.
        """
        if not (math.isfinite(gate_s) and gate_s > 0):
            raise SettingError(self.address, f"A gate time of {gate_s:g} s cannot be counted for.")
        if gate_s != self._gate_s:
            self._set_gate(gate_s)
            self._gate_s = gate_s
        limit_s = self._instrument.timeout_s + _GATES_IN_DEADLINE * gate_s
        while True:
            try:
                return self._instrument.query_number(self._way.read, timeout_s=limit_s)
            except InstrumentError as refusal:
                if refusal.code not in _COMMAND_ERRORS or not self._other_ways:
                    raise
                self._take_other_way()

    def _take_other_way(self) -> None:
        """Read in the next way from now on: it took the configuration, and does not know how to read."""
        self._way = self._other_ways.pop(0)
        if self._way.configure is None:
            self._gate = None
        else:
            self._instrument.command(self._way.configure)

    def _set_gate(self, gate_s: float) -> None:
        if self._gate is None:
            return
        try:
            self._instrument.command(f"{self._gate} {format_number(gate_s, 6)}")
        except InstrumentError as refusal:
            if refusal.code not in _COMMAND_ERRORS:
                raise
            self._gate = None  # the header is unknown to it

    def _configure(self) -> None:
        if self._way.configure is not None:
            self._instrument.command(self._way.configure)
        if self._gate_s is not None:
            self._set_gate(self._gate_s)


def open_counter(
    address: str,
    *,
    timeout_s: float = DEFAULT_TIMEOUT_S,
    models: tuple[Model, ...] | None = None,
    dialect: str | None = None,
    baud: int | None = None,
) -> Counter:
    """Open the counter at a VISA address.

    Raises:
        DriverError: Its text says what is wrong.
        DialectError: There is no dialect of that name.
    """
    return counter_on(VisaTransport(address, baud=baud), timeout_s=timeout_s, models=models, dialect=dialect)


def counter_on(
    transport: Transport,
    *,
    timeout_s: float = DEFAULT_TIMEOUT_S,
    models: tuple[Model, ...] | None = None,
    dialect: str | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Counter:
    """Open the counter at the far end of a transport."""
    known = Known(models, dialect)
    instrument = open_instrument(transport, known, timeout_s=timeout_s, clock=clock)
    with closing_on_error(instrument):
        model, _ = choose_model(instrument, Counter.role, known)
        words = model.counter or CounterDialect()
        for message in words.at_open:
            instrument.command(message)
        way = choose_way(instrument, Counter.role, words.ways, by_reading=False)
        return Counter(instrument, words.ways[words.ways.index(way) :], words.gate)
