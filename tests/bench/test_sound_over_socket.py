"""The practice receiver is heard: its sound over a socket, as counter and as meter, against its own truth."""

from collections.abc import Iterator

import pytest

from sequences.engine.instruments import Bench, Mark
from server.bench.file import BenchFile, CounterEntry, MeterEntry
from server.practice.process import PracticeBench, practice_bench
from server.sound.listening import listen_to
from server.wiring import open_bench, open_sound

SECOND_IF_HZ = 520_000.0
OFFSET_HZ = 800.0


@pytest.fixture
def practice() -> Iterator[PracticeBench]:
    """A receiver as its maker meant it, its beat oscillator on, with the source at its third mixer."""
    with practice_bench(["--seed", "3", "--misalignment", "0"]) as bench:
        _do(bench, {"do": "connect", "role": "source", "to": "third mixer", "through": None})
        _do(bench, {"do": "set", "control": "beat oscillator", "to": "on"})
        _do(bench, {"do": "set", "control": "agc", "to": "off"})
        yield bench


def _do(bench: PracticeBench, task: dict[str, object]) -> None:
    bench.hands.do(task)


@pytest.fixture
def heard(practice: PracticeBench) -> Iterator[Bench]:
    """The bench with its source on the wire and the sound for all the rest."""
    file = BenchFile(
        source=practice.bench_file.source,
        meter=MeterEntry(address=practice.sound),
        counter=CounterEntry(address=practice.sound),
    )
    opened = open_bench(file)
    assert [card.state for card in opened.instruments] == ["ready"] * 3
    yield opened.bench
    opened.close()


def _tone_hz(bench: Bench, frequency_hz: float) -> float:
    assert bench.source is not None
    assert bench.counter is not None
    bench.source.set_frequency(frequency_hz)
    reply = bench.counter.read_frequency(0.5)
    assert reply.value is not None
    return reply.value


def test_the_beat_is_counted_by_ear_with_its_sign(practice: PracticeBench, heard: Bench) -> None:
    """The offset beat: source above and below, error (b- - b+)/2, with (b+ + b-)/2 the offset itself."""
    assert heard.source is not None
    heard.source.set_frequency(SECOND_IF_HZ)
    heard.source.set_power(-50.0)
    heard.source.set_output(True)
    _do(practice, {"do": "turn", "adjuster": "beat oscillator slug", "turns": 0.02})
    above, below = _tone_hz(heard, SECOND_IF_HZ + OFFSET_HZ), _tone_hz(heard, SECOND_IF_HZ - OFFSET_HZ)
    truth = practice.hands.do({"do": "truth"})[0]
    error_hz = (below - above) / 2
    assert (above + below) / 2 == pytest.approx(OFFSET_HZ, abs=0.2)
    oscillators = truth["truth"]["oscillators"]
    zero_beat_hz = oscillators["third oscillator"] + oscillators["beat oscillator"]
    assert error_hz == pytest.approx(zero_beat_hz - SECOND_IF_HZ, abs=0.2)


def test_a_level_step_at_the_source_is_a_level_step_in_the_sound(heard: Bench) -> None:
    """20 dB, within 0.1 dB: the product detector is linear, and gain control is off."""
    assert heard.source is not None
    assert heard.meter is not None
    volts = []
    heard.source.set_frequency(SECOND_IF_HZ + OFFSET_HZ)
    for power_dbm in (-40.0, -60.0):
        heard.source.set_power(power_dbm)
        heard.source.set_output(True)
        reply = heard.meter.read_voltage()
        assert reply.value is not None
        volts.append(reply.value)
    assert volts[0] / volts[1] == pytest.approx(10.0, rel=0.0115)


def test_without_a_signal_there_is_hum_and_noise_and_no_tone(practice: PracticeBench, heard: Bench) -> None:
    assert heard.counter is not None
    assert heard.counter.read_frequency(0.3).mark is Mark.NOT_A_NUMBER
    sound = open_sound(practice.sound.removeprefix("sound:"))
    listened = listen_to(sound.record(4.0), None)
    sound.close()
    assert listened.heard.hum_hz == pytest.approx(50.0, abs=0.05)
    edge_hz = listened.heard.noise_edge_hz
    assert edge_hz is not None
    assert edge_hz.value == pytest.approx(800.0, abs=150.0)  # half of the 1.6 kHz filter about the beat oscillator
