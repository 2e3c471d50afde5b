"""A response that goes as the square, by the intercept formula; and the practice mixer's own square."""

import pytest

from sequences.numerics.figures import Estimate
from sequences.numerics.levels.square_response import EqualOutputs, bound_for, is_square, order_of, rejection_for
from simulators.radios.chain import Mixer


def equal(wanted_dbm: float, intercept_dbm: float) -> EqualOutputs:
    """Give the powers for equal output of a receiver with such a second-order intercept."""
    return EqualOutputs(Estimate(wanted_dbm, 0.1), Estimate(0.5 * (wanted_dbm + intercept_dbm), 0.1))


@pytest.mark.parametrize("measured_dbm", [-100.0, -80.0, -40.0])
def test_the_rejection_is_half_of_intercept_less_signal_wherever_it_was_measured(measured_dbm: float) -> None:
    """Half-IF rejection = (IP2 - signal) / 2: 40 dBm and -87 dBm make 63.5 dB."""
    found = rejection_for(equal(measured_dbm, 40.0), -87.0)

    assert found.value == pytest.approx(63.5)
    assert found.sigma == pytest.approx(0.1 * 1.25**0.5)
    assert bound_for(0.5 * (measured_dbm + 40.0), measured_dbm, -87.0) == pytest.approx(63.5)


def test_two_outputs_tell_a_square_from_a_straight_response() -> None:
    square = order_of(equal(-80.0, 40.0), equal(-86.0, 40.0))
    straight = order_of(
        EqualOutputs(Estimate(-80.0, 0.1), Estimate(-20.0, 0.1)),
        EqualOutputs(Estimate(-83.0, 0.1), Estimate(-23.0, 0.1)),
    )

    assert square.value == pytest.approx(2.0)
    assert is_square(square)
    assert straight.value == pytest.approx(1.0)
    assert not is_square(straight)


@pytest.mark.parametrize(("off_hz", "rises_by_db"), [(455e3, 10.0), (227.5e3, 20.0)], ids=["signal", "half-IF"])
def test_the_practice_mixer_makes_the_half_if_of_the_signal_s_square(off_hz: float, rises_by_db: float) -> None:
    """Second term of a power series: 10 dB more of the signal make 20 dB more of what its second harmonic makes."""
    mixer = Mixer(oscillator_hz=1455e3, straight=0.0, conversion=0.3, spurious=0.002)

    def at_if(volts: float) -> float:
        return sum(each for at_hz, each in mixer.passes([(1455e3 - off_hz, volts)]) if abs(at_hz - 455e3) < 1.0)

    assert (at_if(0.1 * 10**0.5) / at_if(0.1)) == pytest.approx(10.0 ** (rises_by_db / 20.0))
