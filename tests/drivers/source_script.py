"""A source as its tests open it, and the exchange of a setting."""

from drivers.sources import Source, source_on
from tests.drivers.script import (
    Asks,
    ScriptedTransport,
    Step,
    opening,
    sets,
)
from tests.fakes import FakeClock

KNOWN = "Peakwright Practice,Signal Source,0,1"
OFF = (sets(":OUTP OFF"), Asks(":OUTP?", "0"))


def takes(message: str, says: str | None = None) -> Asks:
    """A setting as a source is given it: with the question what it has made of it, and the answer."""
    header, _, value = message.partition(" ")
    told = {"ON": "1", "OFF": "0"}.get(value, value.removesuffix(" DBM"))
    return Asks(f"{message};*OPC?;{header}?;:SYST:ERR?", f'1;{told if says is None else says};0,"No error"')


OPENING: tuple[Step, ...] = (*opening(KNOWN), *OFF)
LEVELLED = (*OPENING, takes(":FREQ 455000"), takes(":POW -60 DBM"), takes(":OUTP ON"))


def opened(transport: ScriptedTransport, clock: FakeClock | None = None, ceiling_dbm: float = -20.0) -> Source:
    """A source that has just been opened."""
    clock = clock or FakeClock()
    return source_on(transport, ceiling_dbm=ceiling_dbm, clock=clock.now, sleep=clock.sleep)


def levelled(transport: ScriptedTransport, clock: FakeClock | None = None) -> Source:
    """A source that gives -60 dBm at 455 kHz."""
    source = opened(transport, clock)
    source.set_frequency(455e3)
    source.set_power(-60.0)
    source.set_output(True)
    return source
