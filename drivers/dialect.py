"""Which words an instrument wants to hear, as data. `drivers.dialect_files` reads them from TOML.

An instrument that no file names is spoken to in plain SCPI-99, after it has shown that it fits the role.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Any, ClassVar

from drivers import scpi
from drivers.conversation import Conversation
from drivers.levels import Into, LevelUnit, level_of, power_of

if TYPE_CHECKING:
    from drivers.identity import Identity

_SIGNIFICANT_DIGITS = 5
_NO_OTHER_KEYS: dict[str, Any] = {"extra": "forbid", "allow_inf_nan": False}


class DialectError(Exception):
    """A dialect that cannot be used. The text is a sentence that names the file and the key."""


def fill(words: str, value: str, unit: str = "") -> str:
    """Write a setting: `:FREQ` gives `:FREQ 455000`; words with a place for it, `FR{value}HZ`, give `FR455000HZ`."""
    return words.replace("{value}", value + unit) if "{value}" in words else f"{words} {value}{unit}"


def question_of(words: str, told: str | None) -> str:
    """Give what asks for a setting: as told, or the words with a question mark; empty where it cannot be asked."""
    if told is not None:
        return told
    return "" if "{value}" in words else f"{words}?"


@dataclass(frozen=True, slots=True)
class SourceDialect:
    """A signal generator's words.

    Attributes:
        frequency, power, output: What sets each, with `{value}` where the value does not simply follow.
        frequency_unit, power_unit: What follows the number.
        frequency_hz: How many hertz one unit of its frequency is.
        frequency_decimals, frequency_step_hz: How finely it is written, and how far off a read-back may be.
        level: In what it takes its level.
        into: Across what it takes its level to stand.
        power_decimals, power_step_db: How finely a level in decibels is written, and how far off a read-back may be.
        on, off: The words of its output.
        ask_frequency, ask_power, ask_output: What asks for each, where it is not the words with a question mark; empty
            where it cannot be asked.
        at_open: What puts it into a plain state, for instance without modulation.
        last_resort: What switches it off where its own words do not. SCPI-99 volume 2 chapter 15: after *RST it is off.
        settle_s: How long it takes to settle after it says that it has.
        lowest_hz, highest_hz, highest_dbm: What it can be set to; nothing beyond is sent.
        output_timer: What lets it switch itself off after `{value}` seconds without a word, where it can.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = _NO_OTHER_KEYS

    frequency: str = ":FREQ"
    frequency_unit: str = ""
    frequency_hz: float = 1.0
    frequency_decimals: int = 3
    frequency_step_hz: float = 1.0
    power: str = ":POW"
    power_unit: str = " DBM"
    level: LevelUnit = LevelUnit.DBM
    into: Into = Into.MATCHED
    power_decimals: int = 3
    power_step_db: float = 0.1
    output: str = ":OUTP"
    on: str = "ON"
    off: str = "OFF"
    ask_frequency: str | None = None
    ask_power: str | None = None
    ask_output: str | None = None
    at_open: tuple[str, ...] = ()
    last_resort: str = "*RST"
    settle_s: float = 0.0
    lowest_hz: float = 0.0
    highest_hz: float = 1e12
    highest_dbm: float = 100.0
    output_timer: str = ""

    @property
    def frequency_question(self) -> str:
        """What asks for the frequency."""
        return question_of(self.frequency, self.ask_frequency)

    @property
    def power_question(self) -> str:
        """What asks for the level."""
        return question_of(self.power, self.ask_power)

    @property
    def output_question(self) -> str:
        """What asks for the output."""
        return question_of(self.output, self.ask_output)

    def set_frequency(self, frequency_hz: float) -> str:
        """Write the setting of a frequency."""
        value = scpi.format_number(frequency_hz / self.frequency_hz, self.frequency_decimals)
        return fill(self.frequency, value, self.frequency_unit)

    def set_power(self, power_dbm: float) -> str:
        """Write the setting of a power into 50 ohm, as the level that the source takes."""
        level = level_of(power_dbm, self.level, self.into)
        is_decibels = self.level in {LevelUnit.DBM, LevelUnit.DBUV}
        decimals = self.power_decimals if is_decibels else _decimals_of(level)
        return fill(self.power, scpi.format_number(level, decimals), self.power_unit)

    def set_output(self, on: bool) -> str:
        """Write the switching of the output."""
        return fill(self.output, self.on if on else self.off)

    def power_dbm(self, level: float) -> float:
        """Give the power into 50 ohm of the level that the source says it is set to."""
        return power_of(level, self.level, self.into)


def _decimals_of(volts: float) -> int:
    """Give the places after the point that leave `_SIGNIFICANT_DIGITS` of a voltage."""
    return max(0, _SIGNIFICANT_DIGITS - 1 - math.floor(math.log10(volts))) if volts > 0.0 else 0


@dataclass(frozen=True, slots=True)
class Way:
    """One way to take a reading: what to send once, if anything, and what to ask each time."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _NO_OTHER_KEYS

    configure: str | None = None
    read: str = ""


def _voltage_ways() -> dict[str, tuple[Way, ...]]:
    return {
        kind: (Way(f":CONF:VOLT:{kind.upper()}", ":READ?"), Way(None, f":MEAS:VOLT:{kind.upper()}?"))
        for kind in ("dc", "ac")
    }


@dataclass(frozen=True, slots=True)
class MeterDialect:
    """A multimeter's words: for each function, "dc" and "ac", the ways to read it, best first."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _NO_OTHER_KEYS

    ways: dict[str, tuple[Way, ...]] = field(default_factory=_voltage_ways)
    at_open: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CounterDialect:
    """A frequency counter's words. `gate` is None where the gate time cannot be set over the wire."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _NO_OTHER_KEYS

    ways: tuple[Way, ...] = (Way(":CONF:FREQ", ":READ?"), Way(None, ":MEAS:FREQ?"))
    gate: str | None = ":SENS:FREQ:APER"
    at_open: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Model:
    """One dialect. Maker and model may hold `*` and `?`; capitals do not matter. A role it lacks is None.

    `name` is what a bench file calls it by; one without maker and model is found by its name only.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = _NO_OTHER_KEYS

    maker: str = ""
    model: str = ""
    name: str = ""
    source: SourceDialect | None = None
    meter: MeterDialect | None = None
    counter: CounterDialect | None = None
    conversation: Conversation = field(default_factory=Conversation)

    def fits(self, identity: Identity) -> bool:
        """Whether the dialect is the one of this instrument."""
        return fnmatchcase(identity.maker.casefold(), self.maker.casefold()) and fnmatchcase(
            identity.model.casefold(), self.model.casefold()
        )

    @property
    def roles(self) -> tuple[str, ...]:
        """The roles the instrument can take."""
        return tuple(role for role in ("source", "meter", "counter") if getattr(self, role) is not None)


PLAIN_SCPI = Model("*", "*", source=SourceDialect(), meter=MeterDialect(), counter=CounterDialect())


def find_model(identity: Identity, models: tuple[Model, ...]) -> Model | None:
    """Give the first dialect that fits this instrument, or None."""
    return next((model for model in models if model.fits(identity)), None)
