"""The passband control's symmetry, against a filter that is shifted here by hand."""

import pytest

from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.control_symmetry import PassbandEdges, Symmetry, symmetry

SIGMA_HZ = 4.0


def passband(centre_hz: float, width_hz: float = 2000.0) -> PassbandEdges:
    """A passband with edges half a width on either side."""
    return PassbandEdges(Estimate(centre_hz - width_hz / 2, SIGMA_HZ), Estimate(centre_hz + width_hz / 2, SIGMA_HZ))


def measured(knob_marks: float, beat_hz: float = 60e3, hz_per_mark: float = 1500.0) -> Symmetry:
    """Both ends of a scale from -1 to 1, the knob turned up on its shaft by so many marks."""
    ends = [passband(60e3 + hz_per_mark * (mark - knob_marks)) for mark in (-1.0, 1.0)]
    return symmetry(ends[0], ends[1], Estimate(beat_hz, 0.5), 2.0)


def test_a_knob_in_the_middle_gives_two_equal_notes() -> None:
    """60 kHz -+ 1.5 kHz, 2 kHz wide: 2.5 kHz at either end."""
    found = measured(0.0)

    assert found.low_end_hz.value == pytest.approx(2500.0)
    assert found.high_end_hz.value == pytest.approx(2500.0)
    assert found.difference_hz.value == pytest.approx(0.0)
    assert found.difference_hz.sigma == pytest.approx((2 * 16.0 + 1.0) ** 0.5)


@pytest.mark.parametrize("hz_per_mark", [1500.0, -1500.0])
@pytest.mark.parametrize("knob_marks", [-0.1, 0.04])
def test_turning_the_knob_as_told_makes_the_notes_equal(knob_marks: float, hz_per_mark: float) -> None:
    """Whichever way the control shifts the passband."""
    found = measured(knob_marks, hz_per_mark=hz_per_mark)

    assert found.turn_marks.value == pytest.approx(-knob_marks)
    assert measured(knob_marks + found.turn_marks.value, hz_per_mark=hz_per_mark).difference_hz.value == pytest.approx(
        0.0, abs=1e-9
    )


def test_the_beat_oscillator_s_error_counts_twice() -> None:
    """10 Hz high: one note 10 Hz shorter, the other 10 Hz longer."""
    assert measured(0.0, beat_hz=60e3 + 10.0).difference_hz.value == pytest.approx(-20.0)


def test_a_control_that_moves_nothing_is_refused() -> None:
    """One sentence says so."""
    with pytest.raises(ValueError, match="does not move the passband"):
        measured(0.0, hz_per_mark=0.0)
