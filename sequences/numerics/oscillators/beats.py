"""An oscillator's error from two offset beats: signed, and without a dead zone.

An error is the oscillator minus its nominal, both as seen from the source: positive means it is high.
"""

import math
from dataclasses import dataclass

from sequences.numerics.figures import Doubt, DoubtName, Estimate, combined
from sequences.numerics.wording import say_hz

SURE_SIGMAS = 3.0


@dataclass(frozen=True, slots=True)
class OffsetBeat:
    """What two beats, with the source above and below nominal by the same offset, tell.

    `error_hz`: the oscillator minus its nominal; None where the beats contradict each other.
    `self_check_hz`: by how much half the sum of the beats exceeds the offset; it should be zero within its sigma.
    """

    error_hz: Estimate | None
    self_check_hz: Estimate
    doubts: tuple[Doubt, ...]


def offset_beat(
    above_hz: Estimate, below_hz: Estimate, offset_hz: float, *, source_sigma_hz: float = 0.0
) -> OffsetBeat:
    """Take the signed error from the beat above (source at nominal + offset) and below (nominal - offset).

    With the oscillator off by e, the beats are offset - e and offset + e, so that half their difference is the error
    and half their sum must give the offset again. If the oscillator is further off than the offset, the
    half-difference gives the offset and the half-sum the error: it is still found, with a doubt that advises a larger
    offset. Seen from the source, it does not matter how often the spectrum is turned over on the way;
    `two_injections.error_at_beat` carries the error on to the oscillator itself.

    Args:
        above_hz: The beat, in Hz, with the source above nominal, and the sigma of its count.
        below_hz: The same with the source below nominal.
        offset_hz: The offset of the source, above zero.
        source_sigma_hz: One-sigma uncertainty of the source's own frequency, common to both beats.

    Raises:
        ValueError: where the offset is not above zero.
    """
    if not offset_hz > 0.0:
        raise ValueError("The offset beat needs the source moved away from nominal by more than nothing.")
    half_difference = 0.5 * (below_hz.value - above_hz.value)
    half_sum = 0.5 * (below_hz.value + above_hz.value)
    check = combined(half_sum - offset_hz, (0.5, above_hz), (0.5, below_hz)).for_few_repeats()
    parts = ((0.5, above_hz), (0.5, below_hz), (1.0, Estimate(0.0, source_sigma_hz)))
    if not math.isfinite(half_sum):
        doubts = (Doubt(DoubtName.NOT_A_NUMBER, "A beat was not counted; repeat the reading with more audio level."),)
        return OffsetBeat(None, check, doubts)
    allowance = SURE_SIGMAS * check.sigma
    if abs(check.value) <= allowance:
        return OffsetBeat(combined(half_difference, *parts).for_few_repeats(), check, ())
    if abs(abs(half_difference) - offset_hz) <= allowance:
        far = combined(math.copysign(half_sum, half_difference), *parts).for_few_repeats()
        return OffsetBeat(far, check, (_offset_too_small(far, offset_hz),))
    return OffsetBeat(None, check, (_self_check_failed(above_hz, below_hz, offset_hz),))


def _offset_too_small(error_hz: Estimate, offset_hz: float) -> Doubt:
    text = (
        f"The oscillator is {say_hz(abs(error_hz.value))} off, more than the offset of {say_hz(offset_hz)}; "
        "repeat with a larger offset to be sure of the side."
    )
    return Doubt(DoubtName.OFFSET_TOO_SMALL, text)


def _self_check_failed(above_hz: Estimate, below_hz: Estimate, offset_hz: float) -> Doubt:
    text = (
        f"The beats of {say_hz(above_hz.value)} and {say_hz(below_hz.value)} should add up to twice the offset, "
        f"{say_hz(2.0 * offset_hz)}, and do not: the oscillator moved between the counts, or the counter counts hum, "
        "noise or a harmonic."
    )
    return Doubt(DoubtName.SELF_CHECK, text)
