"""Finding the receiver with the source: where it is on paper, through noise, clicks and a detector that compresses."""

import math
from collections.abc import Callable, Generator
from typing import Any

import numpy as np
import pytest

from sequences.alignment.outcome import Phase
from sequences.engine.events import ReadingTaken
from sequences.engine.instruments import Bench, Mark, MeterReply
from sequences.engine.requests import Request
from sequences.engine.run import Limits, run
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.plan.content import WayName
from sequences.procedures.dials.find_receiver import Finder, Whereabouts, find_again, find_first, passband_centre
from sequences.procedures.sweeps.place import place_of
from tests.fakes import FakeClock, FakeMeter, FakeSource, Sink, StopAfter
from tests.sequences.procedures.tuning_desk import dial_task

WIDTH_HZ = 2000.0
EXPECTED_HZ = 2.6e6
QUIET_V = 0.02
PLACE = place_of(dial_task(Phase.AS_FOUND, WayName.PASSBAND_CENTRE).receiver, dial_task(Phase.AS_FOUND).way.hookup)


class Paper:
    """A source and a meter behind a maximally flat four-pole window that can be moved."""

    def __init__(self, window_hz: float, law: Callable[[float], float] = lambda volts: volts) -> None:
        self.window_hz, self.law = window_hz, law
        self.source, self.sink = FakeSource(), Sink()
        self.random = np.random.default_rng(3)
        self.clicks: dict[int, float] = {}
        self.meter = FakeMeter(self.source, lambda _: self._reply())

    def _reply(self) -> MeterReply:
        click = self.clicks.get(self.meter.readings, 0.0)
        if math.isinf(click):
            return MeterReply(None, Mark.OVERLOAD)
        x = (self.source.frequency_hz - self.window_hz) / (WIDTH_HZ / 2)
        signal_v = 300 * 10 ** (self.source.power_dbm / 20) / math.sqrt(1 + x**8) if self.source.output_on else 0.0
        wander = 10 ** (self.random.normal(0, 0.03) / 20)
        return MeterReply(float(QUIET_V + click + self.law(signal_v * wander) + self.random.normal(0, 2e-4)))

    def run(self, procedure: Generator[Request, Any, Any]) -> Any:  # noqa: ANN401 - each procedure has its own result
        """Carry it out."""
        return run(
            procedure,
            Bench(self.source, self.meter),
            emit=self.sink,
            stop=StopAfter(),
            clock=FakeClock(),
            limits=Limits(highest_power_dbm=-10.0),
            name="find",
        )


def where(expected_hz: float = EXPECTED_HZ) -> Whereabouts:
    """Within 24 kHz of there."""
    return Whereabouts(expected_hz, 24e3, WIDTH_HZ)


def found_centre() -> Generator[Request, Any, tuple[Finder, Estimate]]:
    """Find it for the first time, and its centre."""
    finder, seen_hz = yield from find_first(PLACE, where())
    centre = yield from passband_centre(finder, seen_hz, WIDTH_HZ)
    return finder, centre


def gain_control(volts: float) -> float:
    """A detector behind gain control: the top rises by a half dB for each dB."""
    return volts / math.sqrt(1 + volts / 0.1)


@pytest.mark.parametrize("law", [lambda volts: volts, lambda volts: volts**2 / (volts + 0.05), gain_control])
@pytest.mark.parametrize("off_hz", [-17.3e3, -900.0, 0.0, 5.21e3])
def test_the_centre_is_found_whatever_the_detector_s_law(law: Callable[[float], float], off_hz: float) -> None:
    paper = Paper(EXPECTED_HZ + off_hz, law)

    _, centre = paper.run(found_centre())

    assert abs(centre.value - EXPECTED_HZ - off_hz) < 4 * centre.sigma
    assert centre.sigma < 0.05 * WIDTH_HZ


def test_found_again_it_takes_few_readings_for_the_curve_is_known() -> None:
    paper = Paper(EXPECTED_HZ + 3e3)

    def twice() -> Generator[Request, Any, tuple[Estimate, int]]:
        finder, _ = yield from found_centre()
        paper.window_hz = EXPECTED_HZ + 4.4e3
        before = paper.meter.readings
        seen_hz = yield from find_again(finder, where(EXPECTED_HZ + 3e3))
        centre = yield from passband_centre(finder, seen_hz, WIDTH_HZ)
        return centre, paper.meter.readings - before

    centre, readings = paper.run(twice())

    assert abs(centre.value - EXPECTED_HZ - 4.4e3) < 4 * centre.sigma
    assert readings < 30


def test_a_click_of_the_meter_is_not_taken_for_the_receiver() -> None:
    paper = Paper(EXPECTED_HZ - 9e3)
    paper.clicks = {12: 0.5}

    _, centre = paper.run(found_centre())

    assert abs(centre.value - EXPECTED_HZ + 9e3) < 4 * centre.sigma


def test_a_receiver_that_is_nowhere_is_said_so_at_the_highest_level_and_no_higher() -> None:
    paper = Paper(EXPECTED_HZ + 900e3)

    with pytest.raises(SequenceError, match=r"not found within 24 kHz of 2\.6 MHz, even at -10\.0 dBm"):
        paper.run(found_centre())

    powers = {reading.power_dbm for reading in paper.sink.of(ReadingTaken) if isinstance(reading, ReadingTaken)}
    assert max(power for power in powers if power is not None) == -10.0
    assert not paper.source.output_on


def test_a_meter_that_overloads_without_a_signal_is_refused() -> None:
    paper = Paper(EXPECTED_HZ)
    paper.clicks = dict.fromkeys(range(1, 20), math.inf)

    with pytest.raises(SequenceError, match="overloads with the source off"):
        paper.run(found_centre())
