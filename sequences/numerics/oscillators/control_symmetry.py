"""Is a passband control's knob where both ends of its travel shift alike? The highest beat note that passes tells.

At one end of the control the passband lies above the beat oscillator and its upper edge bounds the note, at the other
end its lower edge does. Equal notes mean a control in the middle.
"""

import math
from dataclasses import dataclass

from sequences.numerics.figures import Estimate


@dataclass(frozen=True, slots=True)
class PassbandEdges:
    """The two 3 dB points of a passband, in Hz."""

    lower_hz: Estimate
    upper_hz: Estimate

    @property
    def centre_hz(self) -> float:
        """Give the middle."""
        return 0.5 * (self.lower_hz.value + self.upper_hz.value)


@dataclass(frozen=True, slots=True)
class Symmetry:
    """The highest note at the control's low and at its high end, the high one's excess, and the turn that evens them.

    `turn_marks`: how far to turn the knob on its shaft, up the scale where positive.
    """

    low_end_hz: Estimate
    high_end_hz: Estimate
    difference_hz: Estimate
    turn_marks: Estimate


def symmetry(low_end: PassbandEdges, high_end: PassbandEdges, beat_hz: Estimate, travel_marks: float) -> Symmetry:
    """Compare the two ends.

    A knob turned up on its shaft by m marks leaves the shaft m marks lower at either reading, so both passbands go
    down by what m marks are worth, and the difference by twice as much.

    Args:
        low_end: The passband with the control at the low end of its scale.
        high_end: The same at the high end.
        beat_hz: The beat oscillator.
        travel_marks: From one end of the scale to the other.

    Raises:
        ValueError: the two passbands are the same, or the control has no travel.
    """
    shift_hz = high_end.centre_hz - low_end.centre_hz
    if not travel_marks > 0.0 or shift_hz == 0.0:
        raise ValueError("The control does not move the passband, so there is nothing to make even.")
    upwards = shift_hz > 0.0
    above, below = (high_end, low_end) if upwards else (low_end, high_end)
    note_above = _between(above.upper_hz, beat_hz)
    note_below = _between(beat_hz, below.lower_hz)
    # The beat oscillator's own error counts in both notes and so doubly in their difference.
    sigma = math.hypot(above.upper_hz.sigma, below.lower_hz.sigma, 2.0 * beat_hz.sigma)
    excess = note_above.value - note_below.value
    hz_per_mark = shift_hz / travel_marks
    turn = Estimate(excess / (2.0 * hz_per_mark), sigma / (2.0 * abs(hz_per_mark)))
    if upwards:
        return Symmetry(note_below, note_above, Estimate(excess, sigma), turn)
    return Symmetry(note_above, note_below, Estimate(-excess, sigma), turn)


def _between(higher: Estimate, lower: Estimate) -> Estimate:
    return Estimate(higher.value - lower.value, math.hypot(higher.sigma, lower.sigma))
