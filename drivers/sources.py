"""Signal generators: off when opened, off when in doubt, never above their ceiling."""

from __future__ import annotations

import math
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from drivers.dialect import SourceDialect, fill
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
    SettingNotTakenError,
)
from drivers.instrument import DEFAULT_TIMEOUT_S, Instrument
from drivers.roles import Known, RoleDriver, choose_model, closing_on_error, open_instrument, require_numbers
from drivers.transport import Transport, VisaTransport

if TYPE_CHECKING:
    from collections.abc import Callable

    from drivers.dialect import Model

_ATTEMPTS_TO_SWITCH_OFF = 3
# A source tells its setting back rounded to its own steps, of which its dialect knows; and large ones rounded more.
_SAME_FREQUENCY = 1e-6
# How long what the source said of itself is believed before it is asked again, together with the next setting.
_BELIEVED_S = 0.02


@dataclass(frozen=True, slots=True)
class SafeReport:
    """How switching off went. `confirmed`: the source itself says that its output is off. `text` is for the person."""

    confirmed: bool
    text: str


class SourceState(NamedTuple):
    """How a source says that it stands; None for what is not known."""

    frequency_hz: float | None = None
    power_dbm: float | None = None
    output_on: bool | None = None


_UNKNOWN = SourceState()


class Source(RoleDriver):
    """A signal generator. Frequencies in Hz, powers in dBm at its own connector."""

    role = "source"

    def __init__(
        self,
        instrument: Instrument,
        dialect: SourceDialect,
        *,
        ceiling_dbm: float,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        super().__init__(instrument)
        self._clock = clock
        self._dialect = dialect
        self._ceiling_dbm = ceiling_dbm
        self._sleep = sleep
        # Held over check and message together: nothing that was let through may switch on after `make_safe`.
        self._lock = threading.RLock()
        # As the instrument itself last said it stands, at our own setting.
        self._left = _UNKNOWN
        self._asked_s = clock()
        instrument.when_reopened(self._check_anew)

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
        """Set the frequency and return once the instrument says that it has settled, and where it is.

        Raises:
            SettingError: Not a frequency; nothing was sent.
            SettingNotTakenError: The source says that it is elsewhere.
            InstrumentChangedError: Somebody else has changed it since; its output was switched off.
            TransportError, ReplyError: The answer was lost; the same setting may be sent again.
            InstrumentError: The source refused.
        """
        if not (math.isfinite(frequency_hz) and frequency_hz > 0):
            raise SettingError(self.address, f"{frequency_hz:g} Hz is not a frequency the source can be set to.")
        dialect = self._dialect
        if not dialect.lowest_hz <= frequency_hz <= dialect.highest_hz:
            raise SettingError(self.address, f"{frequency_hz:.12g} Hz is outside the range of the source.")
        with self._lock:
            says = self._set(
                dialect.set_frequency(frequency_hz), dialect.frequency_question, self._left._replace(frequency_hz=None)
            )
            says_hz = frequency_hz if says is None else self._hertz(says)
            if abs(says_hz - frequency_hz) > self._same_hz(frequency_hz):
                raise SettingNotTakenError(self.address, f"{frequency_hz:.12g} Hz", f"{says_hz:.12g} Hz")
            self._left = self._left._replace(frequency_hz=says_hz)

    def set_power(self, power_dbm: float) -> None:
        """Set the output power.

        Raises:
            CeilingError: Above the ceiling; nothing was sent.
            SettingNotTakenError: The source says that it gives another power; its output was switched off.
            DriverError: As for `set_frequency`.
        """
        if not math.isfinite(power_dbm):
            raise SettingError(self.address, f"{power_dbm:g} dBm is not a power the source can be set to.")
        if power_dbm > self._ceiling_dbm:
            raise CeilingError(self.address, power_dbm, self._ceiling_dbm)
        dialect = self._dialect
        if power_dbm > dialect.highest_dbm:
            raise SettingError(self.address, f"{power_dbm:g} dBm is more than the source can give.")
        with self._lock:
            says = self._set(dialect.set_power(power_dbm), dialect.power_question, self._left._replace(power_dbm=None))
            says_dbm = power_dbm if says is None else self._dbm(says)
            if abs(says_dbm - power_dbm) > dialect.power_step_db:
                self._switch_off_at_once()
                raise SettingNotTakenError(self.address, f"{power_dbm:g} dBm", f"{says_dbm:g} dBm")
            self._left = self._left._replace(power_dbm=says_dbm)

    def set_output(self, on: bool) -> None:
        """Switch the output.

        Raises:
            PowerNotSetError: On before the power was set since opening or since it was made safe; nothing was sent.
            SettingNotTakenError: The source says that it did not.
            DriverError: As for `set_frequency`.
        """
        dialect = self._dialect
        with self._lock:
            if on and self._left.power_dbm is None:
                raise PowerNotSetError(self.address)
            says = self._set(dialect.set_output(on), dialect.output_question, self._left._replace(output_on=None))
            is_on = on if says is None else self._boolean(says)
            if is_on != on:
                raise SettingNotTakenError(self.address, f"output {_on_off(on)}", f"output {_on_off(is_on)}")
            self._left = self._left._replace(output_on=on)

    def read_back(self) -> SourceState:
        """Ask the instrument for its frequency, its power and its output."""
        with self._lock:
            questions = self._questions()
            return self._state(self._instrument.queries(*questions)) if questions else _UNKNOWN

    def check_standing(self, believed_s: float = 0.0) -> None:
        """Compare what the source says with how it was left, unless it said so less than `believed_s` seconds ago.

        Raises:
            InstrumentChangedError: Somebody else has changed it; its output was switched off.
            DriverError: As for `set_frequency`.
        """
        with self._lock:
            if self._left != _UNKNOWN and self._clock() - self._asked_s >= believed_s:
                self._compare(self.read_back())

    def output_is_on(self) -> bool:
        """Ask the instrument whether its output is on."""
        return self._instrument.query_boolean(self._dialect.output_question)

    def arm_own_safety(self, silence_s: float) -> bool:
        """Have the source switch itself off after so many seconds without a word, where its dialect says how.

        Returns:
            Whether it does.
        """
        words = self._dialect.output_timer
        if not words:
            return False
        with self._lock:
            self._instrument.command(fill(words, f"{silence_s:g}"))
        return True

    def make_safe(self) -> SafeReport:
        """Switch the output off by every means there is, reopening the link if it was lost. Never stops half-way.

        A Ctrl-C that comes meanwhile is raised again at the end.
        """
        with self._lock:
            return self._make_safe()

    def close(self) -> None:
        """Switch the output off and drop the link."""
        self.let_go()

    def let_go(self) -> SafeReport:
        """Switch the output off and drop the link, as `close` does, and give how switching off went."""
        report = self.make_safe()
        super().close()
        return report

    def _make_safe(self) -> SafeReport:
        # Forgotten, so that reopening finds nothing to object to, and so that the power must be set anew.
        self._left = _UNKNOWN
        self._instrument.end_pause()
        problem = ""
        interruption: BaseException | None = None
        for _ in range(_ATTEMPTS_TO_SWITCH_OFF):
            try:
                self._sleep(self._instrument.retry_s)
                problem = "" if self._switch_off() else _cannot_say(self.address)
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

    def _switch_off(self) -> bool:
        """Send each message that should do it until the source says that its output is off.

        Returns:
            Whether that is known. One that cannot be asked is off when it acknowledges the message, as far as it can be
            known; from one that does neither nothing can be known.
        """
        off, question = self._dialect.set_output(on=False), self._dialect.output_question
        for message in dict.fromkeys((off, self._dialect.last_resort)):
            with suppress(InstrumentError, ReplyTimeoutError, ReplyError):  # the next question tells
                self._instrument.command(message)
                if not question:
                    return self._instrument.acknowledges
            if question and not self.output_is_on():
                self._left = self._left._replace(output_on=False)
                return True
        raise OutputStillOnError(self.address)

    def _shout_off(self, problem: str) -> str:
        sent = self._instrument.shout(self._dialect.set_output(on=False))
        tried = "It was told to switch off but did not confirm it" if sent else "It could not be told to switch off"
        return f"{problem} {tried}: switch its output off by hand.".strip()

    def _set(self, message: str, question: str, meanwhile: SourceState) -> str | None:
        """Send a setting and give what the source says of it; in the same trip ask whether all was as it was left.

        Until the source has answered, what is being set is not known. None where it cannot be asked.
        """
        questions = self._questions() if self._is_to_be_asked() else ()
        left, self._left = self._left, meanwhile
        after = (question,) if question else ()
        answers = self._instrument.set_and_ask(message, before=questions, after=after)
        if questions:
            self._compare(self._state(answers.before), left)
        if self._dialect.settle_s:
            self._sleep(self._dialect.settle_s)
        return answers.after[0] if after else None

    def _is_to_be_asked(self) -> bool:
        return self._left != _UNKNOWN and self._clock() - self._asked_s >= _BELIEVED_S

    def _questions(self) -> tuple[str, ...]:
        return tuple(question for question in self._every_question() if question)

    def _every_question(self) -> tuple[str, str, str]:
        dialect = self._dialect
        return dialect.frequency_question, dialect.power_question, dialect.output_question

    def _state(self, replies: tuple[str, ...]) -> SourceState:
        """Read the answers to the questions that can be asked."""
        answered = iter(replies)
        frequency, power, output = (next(answered) if question else None for question in self._every_question())
        return SourceState(
            None if frequency is None else self._hertz(frequency),
            None if power is None else self._dbm(power),
            None if output is None else self._boolean(output),
        )

    def _hertz(self, reply: str) -> float:
        return self._instrument.number(reply) * self._dialect.frequency_hz

    def _dbm(self, reply: str) -> float:
        return self._dialect.power_dbm(self._instrument.number(reply))

    def _boolean(self, reply: str) -> bool:
        return self._instrument.boolean(reply)

    def _same_hz(self, frequency_hz: float) -> float:
        return max(self._dialect.frequency_step_hz, _SAME_FREQUENCY * frequency_hz)

    def _check_anew(self) -> None:
        """Compare after the link was opened anew. Being made safe leaves nothing to compare: off comes next."""
        if self._left != _UNKNOWN:
            self._compare(self.read_back())

    def _compare(self, says: SourceState, left: SourceState | None = None) -> None:
        self._asked_s = self._clock()
        change = self._change(says, self._left if left is None else left)
        if change is not None:
            self._switch_off_at_once()
            raise InstrumentChangedError(self.address, change)

    def _switch_off_at_once(self) -> None:
        self._left = _UNKNOWN
        with suppress(DriverError):  # whoever hears of the error that follows makes it safe once more
            self._instrument.command(self._dialect.set_output(on=False))

    def _change(self, says: SourceState, left: SourceState) -> str | None:
        """Say what is not as it was left, the output first."""
        if says.output_on is not None and left.output_on not in (None, says.output_on):
            return f"its output was {_on_off(not says.output_on)} and is now {_on_off(says.output_on)}"
        if _differ(left.power_dbm, says.power_dbm, self._dialect.power_step_db):
            return f"its power was {left.power_dbm:.12g} dBm and is now {says.power_dbm:.12g} dBm"
        if _differ(left.frequency_hz, says.frequency_hz, self._same_hz(left.frequency_hz or 0.0)):
            return f"its frequency was {left.frequency_hz:.12g} Hz and is now {says.frequency_hz:.12g} Hz"
        return None


def _cannot_say(address: str) -> str:
    return f"The source at {address} was told to switch off and cannot say whether it is: look at its output."


def _differ(was: float | None, now: float | None, same: float) -> bool:
    return was is not None and now is not None and abs(now - was) > same


def _on_off(on: bool) -> str:
    return "on" if on else "off"


def open_source(
    address: str,
    *,
    ceiling_dbm: float,
    timeout_s: float = DEFAULT_TIMEOUT_S,
    models: tuple[Model, ...] | None = None,
    dialect: str | None = None,
    baud: int | None = None,
) -> Source:
    """Open the source at a VISA address and switch its output off.

    Raises:
        DriverError: Its text says what is wrong.
        DialectError: There is no dialect of that name.
    """
    return source_on(
        VisaTransport(address, baud=baud), ceiling_dbm=ceiling_dbm, timeout_s=timeout_s, models=models, dialect=dialect
    )


def source_on(
    transport: Transport,
    *,
    ceiling_dbm: float,
    timeout_s: float = DEFAULT_TIMEOUT_S,
    models: tuple[Model, ...] | None = None,
    dialect: str | None = None,
    clock: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], None] = time.sleep,
) -> Source:
    """Open the source at the far end of a transport and switch its output off."""
    known = Known(models, dialect)
    instrument = open_instrument(transport, known, timeout_s=timeout_s, clock=clock)
    with closing_on_error(instrument):
        model, is_known = choose_model(instrument, Source.role, known)
        words = model.source or SourceDialect()
        if not is_known:
            require_numbers(
                instrument, Source.role, words.frequency_question, words.power_question, words.output_question
            )
        source = Source(instrument, words, ceiling_dbm=ceiling_dbm, clock=clock, sleep=sleep)
        source.prepare()
        return source
