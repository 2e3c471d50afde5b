"""How selectivity is laid out: from the antenna on the first band, at every width the receiver has.

The circuits before the mixer add little to it where a knob tunes them. Where the dial does, they are sharpest at the
low end and broadest at the high end, so that all three places are measured.
"""

from dataclasses import replace

from sequences.kinds.selectivity.figures import SHAPE
from sequences.plan.content import Culprit, Limit, Step, Way
from sequences.procedures.antenna import antenna_step, proof_settings
from sequences.receiver.chain import mid_band, widths_khz
from sequences.receiver.model import Receiver

NAME = "selectivity"
WORDS = (
    "the two frequencies that need 6 dB more of the source for the same output, and the two that need 60 dB more",
    "at the same output the detector's law and gain control are the same, and only the receiver's circuits differ",
)
MEANING = "Selectivity is how well a receiver shuts out a strong station beside the one it is tuned to."


def steps(receiver: Receiver) -> list[Step]:
    """Measure it where a limit is set and the antenna can be reached."""
    most = receiver.limits.shape_factor
    if most is None:
        return []
    band = next(iter(receiver.bands))
    by_knob = receiver.preselector.tuned_by == "knob"
    settings = (mid_band(receiver, band),) if by_knob else proof_settings(receiver, band)
    limit = Limit(SHAPE, most)
    return antenna_step(receiver, NAME, limit, WORDS, MEANING, settings, points_at=Culprit.FILTER)


def with_width(way: Way, control: str | None, choice: str | None) -> Way:
    """Give the way with the width control standing so; as it is where there is none."""
    if control is None or choice is None:
        return way
    return replace(way, hookup=replace(way.hookup, controls={**way.hookup.controls, control: choice}))


def width_choices(receiver: Receiver) -> tuple[str | None, tuple[str | None, ...]]:
    """Give the control that sets the width, with its choices; none, with one look, where there is no such control."""
    entries = [entry for entry in receiver.ifs.values() if entry.width_control is not None]
    if not entries:
        return None, (None,)
    return entries[-1].width_control, tuple(widths_khz(entries[-1]))
