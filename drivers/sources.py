"""Signal generators: off when opened, off when in doubt, never above their ceiling."""

from __future__ import annotations

import math
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.catalog import KNOWN_MODELS, Model, SourceDialect
from drivers.errors import (
    CeilingError,
    DriverError,
    InstrumentChangedError,
    InstrumentError,
    OutputStillOnError,
    PowerNotSetError,
    ReplyError,
    ReplyTimeoutError,
    SettingError,
)
from drivers.instrument import DEFAULT_TIMEOUT_S, Instrument
from drivers.roles import RoleDriver, choose_model, closing_on_error, require_numbers
from drivers.scpi import format_number
from drivers.transport import Transport, VisaTransport

if TYPE_CHECKING:
    from collections.abc import Callable

_FREQUENCY_DECIMALS = 3
_POWER_DECIMALS = 3
_ATTEMPTS_TO_SWITCH_OFF = 3
# A source tells its setting back rounded to its own steps.
_SAME_FREQUENCY = 1e-6
_SAME_FREQUENCY_HZ = 1.0
_SAME_POWER_DB = 0.1


@dataclass(frozen=True, slots=True)
class SafeReport:
    """How switching off went. `confirmed`: the source itself says that its output is off. `text` is for the person."""

    confirmed: bool
    text: str


class Source(RoleDriver):
    """A signal generator. Frequencies in Hz, powers in dBm at its own connector."""

    role = "source"

    def __init__(
        self,
        instrument: Instrument,
        dialect: SourceDialect,
        *,
        ceiling_dbm: float,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        super().__init__(instrument)
        self._dialect = dialect
        self._ceiling_dbm = ceiling_dbm
        self._sleep = sleep
        # Held over check and message together: nothing that was let through may switch on after `make_safe`.
        self._lock = threading.RLock()
        # As last confirmed by the instrument; None while unknown.
        self._frequency_hz: float | None = None
        self._power_dbm: float | None = None
        self._output_on: bool | None = None
        instrument.when_reopened(self._check_standing)

    @property
    def ceiling_dbm(self) -> float:
        """The most power this source will be set to."""
        return self._ceiling_dbm

    def prepare(self) -> None:
        """Switch the output off and put the source into a plain state, as it must be before anything else.

        Raises:
            OutputStillOnError: The source does not switch off.
            DriverError: As for `set_frequency`.
        """
        self._switch_off()
        for message in self._dialect.at_open:
            self._instrument.command(message)
        if self._dialect.at_open:
            self._switch_off()

    def set_frequency(self, frequency_hz: float) -> None:
        """Set the frequency and return once the instrument says it has settled.

        Raises:
            SettingError: Not a frequency; nothing was sent.
            TransportError, ReplyError: The answer was lost; the same setting may be sent again.
            InstrumentError: The source refused.
        """
        if not (math.isfinite(frequency_hz) and frequency_hz > 0):
            raise SettingError(self.address, f"{frequency_hz:g} Hz is not a frequency the source can be set to.")
        message = f"{self._dialect.frequency} {format_number(frequency_hz, _FREQUENCY_DECIMALS)}"
        with self._lock:
            self._frequency_hz = None
            self._instrument.command(message)
            self._frequency_hz = frequency_hz

    def set_power(self, power_dbm: float) -> None:
        """Set the output power.

        Raises:
            CeilingError: Above the ceiling; nothing was sent.
            DriverError: As for `set_frequency`.
        """
        if not math.isfinite(power_dbm):
            raise SettingError(self.address, f"{power_dbm:g} dBm is not a power the source can be set to.")
        if power_dbm > self._ceiling_dbm:
            raise CeilingError(self.address, power_dbm, self._ceiling_dbm)
        message = f"{self._dialect.power} {format_number(power_dbm, _POWER_DECIMALS)}{self._dialect.power_unit}"
        with self._lock:
            self._power_dbm = None
            self._instrument.command(message)
            self._power_dbm = power_dbm

    def set_output(self, on: bool) -> None:
        """Switch the output.

        Raises:
            PowerNotSetError: On before the power was set since opening or since it was made safe; nothing was sent.
            DriverError: As for `set_frequency`.
        """
        with self._lock:
            if on and self._power_dbm is None:
                raise PowerNotSetError(self.address)
            self._output_on = None
            self._instrument.command(f"{self._dialect.output} {'ON' if on else 'OFF'}")
            self._output_on = on

    def output_is_on(self) -> bool:
        """Ask the instrument whether its output is on."""
        return self._instrument.query_boolean(f"{self._dialect.output}?")

    def make_safe(self) -> SafeReport:
        """Switch the output off by every means there is, reopening the link if it was lost. Never stops half-way.

        A Ctrl-C that comes meanwhile is raised again at the end.
        """
        with self._lock:
            return self._make_safe()

    def close(self) -> None:
        """Switch the output off and drop the link."""
        self.make_safe()
        super().close()

    def _make_safe(self) -> SafeReport:
        # Forgotten, so that reopening finds nothing to object to, and so that the power must be set anew.
        self._frequency_hz = self._power_dbm = self._output_on = None
        self._instrument.end_pause()
        problem = ""
        interruption: BaseException | None = None
        for _ in range(_ATTEMPTS_TO_SWITCH_OFF):
            try:
                self._sleep(self._instrument.retry_s)
                self._switch_off()
                problem = ""
                break
            except InstrumentChangedError as error:
                # Whatever stands there now is not ours to switch.
                problem = str(error)
                break
            except DriverError as error:
                problem = str(error)
            except BaseException as error:  # noqa: BLE001 - raised again below, once the output was seen to
                interruption = error
        else:
            problem = self._shout_off(problem)
        if interruption is not None:
            raise interruption
        return SafeReport(not problem, problem or f"The output of the source at {self.address} is off.")

    def _switch_off(self) -> None:
        """Send each message that should do it until the source says that its output is off."""
        for message in (f"{self._dialect.output} OFF", self._dialect.last_resort):
            with suppress(InstrumentError, ReplyTimeoutError, ReplyError):  # the next question tells
                self._instrument.command(message)
            if not self.output_is_on():
                self._output_on = False
                return
        raise OutputStillOnError(self.address)

    def _shout_off(self, problem: str) -> str:
        sent = self._instrument.shout(f"{self._dialect.output} OFF")
        tried = "It was told to switch off but did not confirm it" if sent else "It could not be told to switch off"
        return f"{problem} {tried}: switch its output off by hand.".strip()

    def _check_standing(self) -> None:
        """Compare, after the link was opened anew, what the source says with how it was left."""
        if self._frequency_hz is self._power_dbm is self._output_on is None:
            return  # nothing to compare: being made safe, the next message is the one that switches off
        dialect = self._dialect
        frequency_hz, power_dbm = self._instrument.query_numbers(f"{dialect.frequency}?", f"{dialect.power}?")
        change = self._change(frequency_hz, power_dbm, self.output_is_on())
        if change is None:
            return
        self._frequency_hz = self._power_dbm = self._output_on = None
        with suppress(DriverError):
            self._instrument.command(f"{dialect.output} OFF")
        raise InstrumentChangedError(self.address, change)

    def _change(self, frequency_hz: float, power_dbm: float, output_on: bool) -> str | None:
        if self._output_on not in (None, output_on):
            return f"its output was {_on_off(not output_on)} and is now {_on_off(output_on)}"
        if self._power_dbm is not None and abs(power_dbm - self._power_dbm) > _SAME_POWER_DB:
            return f"its power was {self._power_dbm:g} dBm and is now {power_dbm:g} dBm"
        if self._frequency_hz is None:
            return None
        same_hz = max(_SAME_FREQUENCY_HZ, _SAME_FREQUENCY * self._frequency_hz)
        if abs(frequency_hz - self._frequency_hz) > same_hz:
            return f"its frequency was {self._frequency_hz:g} Hz and is now {frequency_hz:g} Hz"
        return None


def _on_off(on: bool) -> str:
    return "on" if on else "off"


def open_source(
    address: str,
    *,
    ceiling_dbm: float,
    timeout_s: float = DEFAULT_TIMEOUT_S,
    models: tuple[Model, ...] = KNOWN_MODELS,
) -> Source:
    """Open the source at a VISA address and switch its output off.

    Raises:
        DriverError: Its text says what is wrong.
    """
    return source_on(VisaTransport(address), ceiling_dbm=ceiling_dbm, timeout_s=timeout_s, models=models)


def source_on(
    transport: Transport,
    *,
    ceiling_dbm: float,
    timeout_s: float = DEFAULT_TIMEOUT_S,
    models: tuple[Model, ...] = KNOWN_MODELS,
    clock: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], None] = time.sleep,
) -> Source:
    """Open the source at the far end of a transport and switch its output off."""
    instrument = Instrument(transport, timeout_s=timeout_s, clock=clock)
    instrument.open()
    with closing_on_error(instrument):
        model, is_known = choose_model(instrument, Source.role, models)
        dialect = model.source or SourceDialect()
        if not is_known:
            require_numbers(instrument, Source.role, *(f"{word}?" for word in _settings(dialect)))
        source = Source(instrument, dialect, ceiling_dbm=ceiling_dbm, sleep=sleep)
        source.prepare()
        return source


def _settings(dialect: SourceDialect) -> tuple[str, str, str]:
    return dialect.frequency, dialect.power, dialect.output
