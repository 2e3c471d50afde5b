"""The bench file: which instrument plays which role, by VISA address, in TOML.

    [source]
    address = "TCPIP::192.0.2.10::5025::SOCKET"
    ceiling_dbm = 0.0     # the highest level the source may be set to, at its own connector
    loss_db = 20.0        # pad and cable between source and receiver

    [meter]
    address = "TCPIP::192.0.2.11::5025::SOCKET"
    function = "dc"       # or "ac"

    [counter]
    address = "TCPIP::192.0.2.12::5025::SOCKET"

A role may be a person, who is asked a line at a time, and meter and counter may be the sound of the receiver:

    [source]
    address = "person"
    step_hz = 100.0       # the finest steps that this generator can be set to
    step_db = 1.0

    [meter]
    address = "person"
    unit = "V"            # or "dB", "S", "scale"

    [counter]
    address = "sound"     # or "sound:NAME OF AN INPUT"

A role may be left out; what needs it is then refused. Each may also have

    dialect = "name"      # the words it wants to hear, where *IDN? does not tell them
    baud = 115200         # of a serial port; 9600 where it is left out
"""

import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from server.errors import BenchFileError
from server.sentences import tell_validation

BY_HAND = "person"
"""The address of an instrument that a person sets or reads."""

Address = Annotated[str, Field(min_length=1, max_length=256)]


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class InstrumentEntry(_Table):
    """What every instrument has."""

    address: Address
    dialect: Annotated[str, Field(min_length=1, max_length=100)] | None = None
    """What its dialect is called: a file of that name, in the user's folder or among those shipped."""
    baud: int | None = Field(default=None, ge=50, le=4_000_000)
    """How fast its serial port is."""


class SourceEntry(InstrumentEntry):
    """The signal generator."""

    ceiling_dbm: float = Field(default=0.0, ge=-150.0, le=30.0)
    """The highest level it may be set to, at its own connector."""
    loss_db: float = Field(default=0.0, ge=0.0, le=150.0)
    """Pad and cable between it and the receiver."""
    step_hz: float | None = Field(default=None, gt=0.0, le=1e6)
    """The finest step of frequency that a person can set it to."""
    step_db: float | None = Field(default=None, gt=0.0, le=20.0)
    """The finest step of level that a person can set it to."""


class MeterEntry(InstrumentEntry):
    """The voltmeter."""

    function: Literal["dc", "ac"] = "dc"
    unit: Literal["V", "dB", "S", "scale"] = "V"
    """In what a person reads it: volts, decibels, S-units, or marks of a scale that go with the voltage."""
    tone_hz: float | None = Field(default=None, gt=20.0, le=20e3)
    """Where the address is sound: the tone of a modulated source, which does not move in a sweep."""


class CounterEntry(InstrumentEntry):
    """The frequency counter."""


class BenchFile(_Table):
    """The instruments by role, as the file names them."""

    source: SourceEntry | None = None
    meter: MeterEntry | None = None
    counter: CounterEntry | None = None

    @property
    def addresses(self) -> tuple[str, ...]:
        """Every address that it names."""
        return tuple(entry.address for entry in (self.source, self.meter, self.counter) if entry is not None)


def read_bench_file(path: Path) -> BenchFile:
    """Read and check a bench file.

    Raises:
        BenchFileError: it cannot be used; the sentence names the file, the key and what is allowed.
    """
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BenchFileError(f"{path}: the bench file cannot be read ({error.strerror}); check the path.") from error
    except UnicodeDecodeError as error:
        raise BenchFileError(f"{path}: the bench file is not UTF-8 text; save it as such.") from error
    except tomllib.TOMLDecodeError as error:
        raise BenchFileError(f"{path}: the bench file is not valid TOML ({error}).") from error
    except RecursionError:
        raise BenchFileError(f"{path}: the bench file has lists nested far deeper than any bench file.") from None
    if not tables:
        raise BenchFileError(f"{path}: the bench file names no instrument; the known sections are {_keys(BenchFile)}.")
    try:
        return BenchFile.model_validate(tables)
    except ValidationError as error:
        raise BenchFileError(f"{path}: {_sentence(error)}") from error


def _sentence(error: ValidationError) -> str:
    failure = error.errors(include_url=False)[0]
    section, *keys = [str(part) for part in failure["loc"]]
    subject = " ".join([f"[{section}]", *keys])
    if not keys:
        return _about_section(section, dict(failure))
    known = _keys(_SECTIONS[section])
    return tell_validation(failure, subject=subject, known_keys=known)


def _about_section(section: str, failure: dict[str, Any]) -> str:
    if failure["type"] == "extra_forbidden":
        return f"[{section}] is not a known section; the known sections are {_keys(BenchFile)}."
    return f"{section} must be a section of its own, [{section}], with the keys {_keys(_SECTIONS[section])}."


def _keys(table: type[BaseModel]) -> str:
    return ", ".join(table.model_fields)


_SECTIONS: dict[str, type[BaseModel]] = {"source": SourceEntry, "meter": MeterEntry, "counter": CounterEntry}
