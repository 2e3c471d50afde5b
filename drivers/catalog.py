"""Which words an instrument wants to hear, as data: what *IDN? says chooses the row.

A new instrument is one more `Model` row, giving only the words in which it differs:

    Model("Maker as *IDN? says", "Model as *IDN? says", source=SourceDialect(power=":SOUR:POW:LEV"))

An instrument that no row names is spoken to in plain SCPI-99, after it has shown that it fits the role.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from drivers.link import Identity


@dataclass(frozen=True, slots=True)
class SourceDialect:
    """A signal generator's words. `at_open` puts it into a plain state, for instance without modulation."""

    frequency: str = ":FREQ"
    power: str = ":POW"
    power_unit: str = " DBM"
    output: str = ":OUTP"
    at_open: tuple[str, ...] = ()
    # SCPI-99 volume 2 chapter 15: after *RST the output is off.
    last_resort: str = "*RST"


@dataclass(frozen=True, slots=True)
class Way:
    """One way to take a reading: what to send once, and what to ask each time."""

    configure: str | None
    read: str


_VOLTAGE_WAYS = {
    "dc": (Way(":CONF:VOLT:DC", ":READ?"), Way(None, ":MEAS:VOLT:DC?")),
    "ac": (Way(":CONF:VOLT:AC", ":READ?"), Way(None, ":MEAS:VOLT:AC?")),
}


@dataclass(frozen=True, slots=True)
class MeterDialect:
    """A multimeter's words: for each function the ways to read it, best first."""

    ways: Mapping[str, tuple[Way, ...]] = field(default_factory=lambda: dict(_VOLTAGE_WAYS))
    at_open: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CounterDialect:
    """A frequency counter's words. `gate` is None where the gate time cannot be set over the wire."""

    ways: tuple[Way, ...] = (Way(":CONF:FREQ", ":READ?"), Way(None, ":MEAS:FREQ?"))
    gate: str | None = ":SENS:FREQ:APER"
    at_open: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Model:
    """One row. Maker and model may hold `*` and `?`; capitals do not matter. A role it lacks is None."""

    maker: str
    model: str
    source: SourceDialect | None = None
    meter: MeterDialect | None = None
    counter: CounterDialect | None = None

    def fits(self, identity: Identity) -> bool:
        """Whether the row is about this instrument."""
        return fnmatchcase(identity.maker.casefold(), self.maker.casefold()) and fnmatchcase(
            identity.model.casefold(), self.model.casefold()
        )

    @property
    def roles(self) -> tuple[str, ...]:
        """The roles the instrument can take."""
        return tuple(role for role in ("source", "meter", "counter") if getattr(self, role) is not None)


KNOWN_MODELS: tuple[Model, ...] = (
    Model("Peakwright Practice", "Signal Source", source=SourceDialect()),
    Model("Peakwright Practice", "Multimeter", meter=MeterDialect()),
    Model("Peakwright Practice", "*Counter", counter=CounterDialect()),
)

PLAIN_SCPI = Model("*", "*", source=SourceDialect(), meter=MeterDialect(), counter=CounterDialect())


def find_model(identity: Identity, models: tuple[Model, ...] = KNOWN_MODELS) -> Model | None:
    """Give the first row about this instrument, or None."""
    return next((model for model in models if model.fits(identity)), None)
