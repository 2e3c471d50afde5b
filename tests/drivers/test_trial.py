"""Going through a role with an instrument nobody has described."""

from __future__ import annotations

import pytest

from drivers.dialect import Model, Way
from drivers.dialect_files import dialect_from, write_dialect
from drivers.levels import Into, LevelUnit
from drivers.sources import open_source
from drivers.trial import Step, try_role
from tests.drivers.peers import Peer, answering


class Generator:
    """A function generator that knows only these words; everything else goes into its error queue."""

    def __init__(self, words: dict[str, str], *, name: str = "Invented Works,Wave 2,7,1.0") -> None:
        self.settings = dict(words)
        self.name = name
        self.heard: list[str] = []
        self.errors: list[str] = []
        self.register = "0"
        self.was_on = False

    def message(self, message: str) -> str | None:
        """Answer a compound message; after an unknown header the rest is dropped."""
        replies = []
        for unit in message.split(";"):
            self.heard.append(unit)
            try:
                reply = self._unit(unit)
            except KeyError:
                self.errors.append(f'-113,"Undefined header;{unit}"')
                return None
            if reply is not None:
                replies.append(reply)
        return ";".join(replies) or None

    def _unit(self, unit: str) -> str | None:
        header, _, value = unit.partition(" ")
        if header == "*CLS":
            self.errors.clear()
            return None
        if header == "*ESE":
            self.register = value
            return None
        fixed = {"*IDN?": self.name, "*OPC?": "1", "*ESE?": self.register}
        if header in fixed:
            return fixed[header]
        if header == ":SYST:ERR?":
            return self.errors.pop(0) if self.errors else '0,"No error"'
        if header.endswith("?"):
            return self.settings[header[:-1]]
        if header not in self.settings:
            raise KeyError(header)
        self.settings[header] = {"ON": "1", "OFF": "0"}.get(value, value.removesuffix(" DBM"))
        self.was_on = self.was_on or value == "ON"
        return None


def tried(generator: Generator, role: str = "source", *, allow_output: bool = False) -> tuple[Model | None, list[Step]]:
    """Go through a role over a real socket."""
    steps: list[Step] = []
    with Peer(answering(generator.message)) as peer:
        model = try_role(peer.address, role, steps.append, allow_output=allow_output, timeout_s=0.5)
    return model, steps


def test_a_generator_in_dbm_is_described_and_its_output_stays_off() -> None:
    """It knows `:SOUR:FREQ` and `:POW`; the dialect says only what differs from plain SCPI-99."""
    generator = Generator({":SOUR:FREQ": "1E6", ":POW": "-20", ":OUTP": "1"})

    model, steps = tried(generator)

    assert model is not None
    assert write_dialect(model) == (
        'maker = "Invented Works"\nmodel = "Wave 2"\n\n[source]\nfrequency = ":SOUR:FREQ"\n'
    )
    assert generator.settings == {":SOUR:FREQ": "1000000", ":POW": "-60", ":OUTP": "0"}
    assert not generator.was_on
    assert Step(worked=True, text="the output was not switched on: it was not allowed") in steps


def test_nothing_is_touched_before_the_output_is_off() -> None:
    """Only asked."""
    generator = Generator({":FREQ": "1E6", ":POW": "-20", ":OUTP": "1"})
    tried(generator)

    first = next(n for n, unit in enumerate(generator.heard) if unit == ":OUTP OFF")
    assert all(unit.endswith("?") or unit.startswith("*") for unit in generator.heard[:first])


@pytest.mark.parametrize(
    ("load", "into", "volts"), [("50", Into.MATCHED, 0.63246e-3), ("9.9E37", Into.OPEN, 1.2649e-3)]
)
def test_a_generator_in_volts_says_its_unit_and_its_load(load: str, into: Into, volts: float) -> None:
    """-60 dBm is 0.632 mV peak to peak across 50 ohm, and shows as twice that across nothing."""
    words = {":FREQ": "1E3", ":VOLT": "0.1", ":VOLT:UNIT": "VPP", ":OUTP": "0", ":OUTP:LOAD": load}
    generator = Generator(words)

    model, _ = tried(generator)

    assert model is not None
    assert model.source is not None
    assert (model.source.level, model.source.into) == (LevelUnit.VOLTS_PEAK_TO_PEAK, into)
    assert float(generator.settings[":VOLT"]) == pytest.approx(volts, rel=1e-3)


def test_a_generator_that_does_not_say_its_load_is_taken_for_matched_and_the_person_is_told() -> None:
    """The error would be 6 dB less, never more."""
    generator = Generator({":FREQ": "1E3", ":VOLT": "0.1", ":OUTP": "0"})

    model, steps = tried(generator)

    assert model is not None
    assert model.source is not None
    assert model.source.into is Into.MATCHED
    assert any("50 ohm are taken" in step.text and not step.worked for step in steps)


def test_where_it_is_allowed_the_output_comes_on_once_and_goes_off_again() -> None:
    """At -60 dBm."""
    generator = Generator({":FREQ": "1E3", ":POW": "0", ":OUTP": "0"})

    model, steps = tried(generator, allow_output=True)

    assert model is not None
    assert generator.was_on
    assert generator.settings[":OUTP"] == "0"
    assert generator.heard.index(":POW -60 DBM") < generator.heard.index(":OUTP ON")
    assert steps[-1].text == ":OUTP ON switched the output on at -60 dBm, and off it went again"


def test_a_source_whose_output_does_not_go_off_is_left_alone() -> None:
    """Nothing else is tried."""

    class Stuck(Generator):
        def _unit(self, unit: str) -> str | None:
            return "1" if unit == ":OUTP?" else super()._unit(unit)

    generator = Stuck({":FREQ": "1E3", ":POW": "0", ":OUTP": "1"})

    model, steps = tried(generator)

    assert model is None
    assert steps[-1] == Step(worked=False, text=":OUTP OFF leaves the output on")
    assert not any(unit.startswith((":FREQ", ":POW")) for unit in generator.heard)


def test_what_is_no_source_is_told_step_by_step() -> None:
    """And nothing is written."""
    model, steps = tried(Generator({":READ": "1.5"}))

    assert model is None
    assert steps[-1].text == "what asks for its output was not found"


def test_a_meter_that_only_measures_is_described_by_the_way_that_reads() -> None:
    """It takes CONF, and knows no READ?."""
    model, steps = tried(Generator({":CONF:VOLT:DC": "", ":MEAS:VOLT:DC": "0.25"}), "meter")

    assert model is not None
    assert model.meter is not None
    assert model.meter.ways == {"dc": (Way(None, ":MEAS:VOLT:DC?"),)}
    assert any(step.text == ":MEAS:VOLT:DC? reads 0.25" for step in steps)
    assert dialect_from({"meter": {"ways": {"dc": [{"read": ":MEAS:VOLT:DC?"}]}}}, "here").meter == model.meter


def test_a_counter_is_described_with_its_gate() -> None:
    """Here under another word than that of the practice bench."""
    model, _ = tried(Generator({":CONF:FREQ": "", ":READ": "455000", ":FREQ:GATE:TIME": "1"}), "counter")

    assert model is not None
    assert model.counter is not None
    assert model.counter.gate == ":FREQ:GATE:TIME"


def test_what_was_found_is_enough_to_drive_it() -> None:
    """The dialect is read back, and the generator set by it."""
    generator = Generator({":SOUR:FREQ": "1E6", ":SOUR:VOLT": "0.1", ":SOUR:VOLT:UNIT": "VRMS", ":OUTP1": "1"})
    model, _ = tried(generator)
    assert model is not None

    with Peer(answering(generator.message)) as peer:
        source = open_source(peer.address, ceiling_dbm=0.0, models=(model,))
        source.set_frequency(455e3)
        source.set_power(0.0)
        source.set_output(True)
        on = source.output_is_on()
        source.close()

    # 0 dBm is 223.6 mV across 50 ohm.
    assert on
    assert float(generator.settings[":SOUR:VOLT"]) == pytest.approx(0.223607, rel=1e-4)
    assert generator.settings[":OUTP1"] == "0"


def test_an_address_where_nobody_answers_is_one_sentence() -> None:
    """As everywhere."""
    steps: list[Step] = []

    assert try_role("TCPIP::127.0.0.1::1::SOCKET", "meter", steps.append) is None
    assert "No instrument answers" in steps[-1].text
