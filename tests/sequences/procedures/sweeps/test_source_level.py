"""A level to measure at: raised out of the noise, lowered from under AGC, refused where nothing is heard."""

import math

import pytest

from sequences.engine.instruments import Bench
from sequences.engine.run import Limits, run
from sequences.errors import SequenceError
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.procedures.sweeps.source_level import SourceLevel, find_source_level
from tests.fakes import FakeClock, StopAfter
from tests.sequences.procedures.circuit_desk import CircuitDesk, Detector, shipped, single_gain

FREQUENCY_HZ = 455e3
LINEAR = Detector()


def desk(gain: float, detector: Detector = LINEAR) -> CircuitDesk:
    """One circuit of Q 50 behind so much gain."""
    made = CircuitDesk(
        shipped("millrace-5"), {}, lambda _desk, f, _point: gain * single_gain(f, FREQUENCY_HZ, 50.0), detector
    )
    made.leads["source"] = "converter grid"
    return made


def look(on: CircuitDesk, frequencies_hz: list[float], level_dbm: float, highest_dbm: float = 0.0) -> SourceLevel:
    """Find a level."""
    return run(
        find_source_level(frequencies_hz, level_dbm, highest_dbm, 0.05),
        Bench(source=on.source, meter=on.meter),
        emit=on.sink,
        stop=StopAfter(),
        clock=FakeClock(),
        limits=Limits(highest_power_dbm=highest_dbm),
        name="level",
    )


def test_a_level_that_suits_is_kept_at_the_strongest_frequency() -> None:
    on = desk(30.0)

    level = look(on, [445e3, 450e3, 455e3, 460e3], -20.0)

    assert (level.power_dbm, level.frequency_hz, level.doubts) == (-20.0, 455e3, ())
    assert level.volts == pytest.approx(on.detector.volts(0.02236 * 30.0), rel=0.02)
    assert 0.0 < level.volts_sigma < 0.01 * level.volts
    assert not on.notices()


def test_a_level_lost_in_the_noise_is_raised_but_never_above_the_ceiling() -> None:
    assert look(desk(30.0), [FREQUENCY_HZ], -80.0).power_dbm in {-50.0, -40.0}
    assert look(desk(0.3), [FREQUENCY_HZ], -80.0, highest_dbm=-13.0).power_dbm == -13.0


def test_a_flattened_top_is_noticed_and_the_level_lowered() -> None:
    """A detector whose valve saturates at 2 V: at 20 V of carrier a decibel more hardly shows."""
    on = desk(900.0, Detector(ceiling_volts=2.0))

    level = look(on, [FREQUENCY_HZ], -20.0)

    assert level.power_dbm <= -38.0
    assert "flattened" in on.notices()[0]
    assert "flattened" in level.doubts[0]
    assert "lowered" in level.doubts[0]


def test_an_overloaded_meter_lowers_the_level_too() -> None:
    on = desk(900.0, Detector(overload_volts=1.2))

    level = look(on, [FREQUENCY_HZ], -20.0)

    assert 0.0 < level.volts < 1.2
    assert "overloads" in on.notices()[0]


def test_silence_is_one_sentence_that_says_where_to_look() -> None:
    with pytest.raises(SequenceError, match=r"Nothing moves the meter .* check the leads"):
        look(desk(0.0), [FREQUENCY_HZ], -20.0)


def test_a_held_output_tells_gains_whatever_the_detectors_law() -> None:
    """Twenty decibels down the skirt of a known circuit, through a square law below and AGC above."""
    on = desk(60.0, Detector(agc_volts=0.4))
    level = look(on, [FREQUENCY_HZ], -20.0)
    held = HeldOutput(level, 0.0, 0.05)
    off_hz = [0.0, 4e3, 20e3, 45e3]

    def levels() -> list[float]:
        found = []
        for aside_hz in off_hz:
            estimate = run(
                held.read(FREQUENCY_HZ + aside_hz, "level"),
                Bench(source=on.source, meter=on.meter),
                emit=on.sink,
                stop=StopAfter(),
                clock=FakeClock(),
                limits=Limits(highest_power_dbm=0.0),
                name="held",
            )
            assert estimate.sigma < 0.1
            on.source.output_on = True
            found.append(estimate.value)
        return found

    on.source.output_on = True
    found = levels()

    for aside_hz, level_db in zip(off_hz, found, strict=True):
        wanted_db = 20 * math.log10(single_gain(FREQUENCY_HZ + aside_hz, FREQUENCY_HZ, 50.0))
        assert level_db - found[0] == pytest.approx(wanted_db, abs=0.3)


def test_a_held_output_out_of_reach_is_one_sentence() -> None:
    on = desk(60.0)
    level = look(on, [FREQUENCY_HZ], -20.0)
    on.source.output_on = True

    with pytest.raises(SequenceError, match="highest allowed level"):
        run(
            HeldOutput(level, -20.0, 0.05).read(600e3, "level"),
            Bench(source=on.source, meter=on.meter),
            emit=on.sink,
            stop=StopAfter(),
            clock=FakeClock(),
            limits=Limits(highest_power_dbm=0.0),
            name="held",
        )
