"""Zero beat through a mixer and behind it, against chains of sums and differences worked out here."""

import pytest

from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.two_injections import Side, agreement, error_at_beat, mixer_oscillator_error

SIGMA_HZ = 0.5


def source_at_zero_beat(side: Side, mixer_hz: float, last_hz: float) -> float:
    """The input that a mixer turns into the last IF: low side f = LO + IF, high side f = LO - IF, sum f = IF - LO."""
    return {"low": mixer_hz + last_hz, "high": mixer_hz - last_hz, "sum": last_hz - mixer_hz}[side]


@pytest.mark.parametrize(("side", "mixer_hz"), [("low", 410e3), ("high", 530e3), ("sum", 20e3)])
@pytest.mark.parametrize("mixer_off_hz", [-120.0, 0.0, 45.0])
@pytest.mark.parametrize("beat_off_hz", [-30.0, 12.0])
def test_the_two_beats_differ_by_the_mixer_s_own_oscillator(
    side: Side, mixer_hz: float, mixer_off_hz: float, beat_off_hz: float
) -> None:
    """One mixer before the beat oscillator; whatever the beat oscillator is off by drops out."""
    nominal_hz = source_at_zero_beat(side, mixer_hz, 60e3)
    zero_hz = source_at_zero_beat(side, mixer_hz + mixer_off_hz, 60e3 + beat_off_hz)
    through = error_at_beat(Estimate(zero_hz, SIGMA_HZ), nominal_hz, turned_over=side == "high")
    behind = error_at_beat(Estimate(60e3 + beat_off_hz, SIGMA_HZ), 60e3, turned_over=False)

    error = mixer_oscillator_error(through, behind, side, turned_over_after=False)

    assert behind.value == pytest.approx(beat_off_hz)
    assert error.value == pytest.approx(mixer_off_hz)
    assert error.sigma == pytest.approx(SIGMA_HZ * 2**0.5)


@pytest.mark.parametrize("side", ["low", "high"])
def test_a_high_side_conversion_after_the_mixer_turns_the_sense_over(side: Side) -> None:
    """First mixer (under test) to 470 kHz, second with its oscillator at 530 kHz: f_last = 530 - f_second."""
    first_hz = {"low": 2000e3, "high": 2940e3}[side]

    def zero(first_off_hz: float, second_off_hz: float) -> tuple[float, float]:
        second_if_hz = 530e3 + second_off_hz - 60e3
        return source_at_zero_beat(side, first_hz + first_off_hz, second_if_hz), second_if_hz

    nominal_through, nominal_behind = zero(0.0, 0.0)
    at_through, at_behind = zero(80.0, -25.0)
    through = error_at_beat(Estimate(at_through, SIGMA_HZ), nominal_through, turned_over=side == "low")
    behind = error_at_beat(Estimate(at_behind, SIGMA_HZ), nominal_behind, turned_over=True)

    assert mixer_oscillator_error(through, behind, side, turned_over_after=True).value == pytest.approx(80.0)


def test_points_that_disagree_are_balanced_to_half_the_error() -> None:
    """+100 Hz through and +20 Hz behind: 60 Hz lower leaves 40 Hz on either side."""
    compared = agreement(Estimate(100.0, 1.0), Estimate(20.0, 1.0), 30.0)

    assert compared.agree is False
    assert compared.balance_hz == pytest.approx(-60.0)
    assert compared.left_hz == pytest.approx(40.0)
    assert 100.0 + compared.balance_hz == pytest.approx(40.0)
    assert 20.0 + compared.balance_hz == pytest.approx(-40.0)
    assert "60 Hz lower halves the error, to 40 Hz on either side" in compared.text


@pytest.mark.parametrize(("apart_hz", "agree"), [(10.0, True), (29.0, None), (31.0, None), (50.0, False)])
def test_points_agree_within_the_limit_and_their_uncertainty(apart_hz: float, agree: bool | None) -> None:
    """What is too close to call is said to be so."""
    compared = agreement(Estimate(apart_hz, 1.0), Estimate(0.0, 1.0), 30.0)

    assert compared.agree is agree
