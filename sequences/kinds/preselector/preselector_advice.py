"""What to do about a preselector that stays off though its adjusters are peaked: in sentences."""

import math
from collections.abc import Sequence
from statistics import median, stdev

from sequences.alignment.outcome import Task
from sequences.kinds.preselector.preselector_figures import POINTER, BandFigures, hz_per_mark, where_of
from sequences.numerics.figures import Estimate
from sequences.numerics.responses.staggered import one_circuit_hz
from sequences.numerics.verdicts.part_drift import drift_behind
from sequences.numerics.wording import say_hz
from sequences.procedures.sweeps.place import HZ_PER_KHZ

FEWEST_BANDS = 2
SPREAD_OF_ONE_MARKS = 0.1
"""What the pointer's error on a single band is worth as that of all."""


def common_pointer(bands: Sequence[BandFigures]) -> Estimate | None:
    """Give the knob pointer's error common to these bands, in marks; its sigma is what they scatter by."""
    marks = [figures.pointer_marks.value for figures in bands if figures.pointer_marks is not None]
    if not marks:
        return None
    return Estimate(median(marks), stdev(marks) if len(marks) >= FEWEST_BANDS else SPREAD_OF_ONE_MARKS)


def knob_sentences(task: Task, bands: Sequence[BandFigures]) -> tuple[str, ...]:
    """Say how to turn the knob on its shaft where most bands peak beside their marks by much the same."""
    most = next((limit.most for limit in task.step.limits if limit.quantity == POINTER), None)
    common = common_pointer(bands)
    if most is None or common is None or abs(common.value) <= most:
        return ()
    way = "lower" if common.value > 0.0 else "higher"
    text = (
        f"On most bands the knob peaks about {abs(common.value):.1f} marks beside its mark: loosen it and turn it on "
        f"its shaft so that it reads {abs(common.value):.1f} {way}."
    )
    return (text,)


def tracking_sentence(task: Task, figures: BandFigures) -> str:
    """Say what is left where a ganged circuit does not follow the receiver at a mark."""
    off_hz = _off_hz(figures)
    if off_hz is None:
        return _not_measured(task, figures)
    return f"{_stands_off(task, figures, off_hz)}, and its adjusters rule elsewhere. {_rocking(task, off_hz)}"


def rocked_sentence(task: Task, figures: BandFigures) -> str:
    """Say what points to a part where a circuit still does not follow though the gang was rocked."""
    off_hz = _off_hz(figures)
    if off_hz is None:
        return _not_measured(task, figures)
    stands = _stands_off(task, figures, off_hz)
    return f"{stands}, though the gang was rocked: suspect its coil, or bent plates of the gang."


def _off_hz(figures: BandFigures) -> float | None:
    return None if figures.centre_hz is None else float(figures.centre_hz.value - figures.seen.tuned_hz.value)


def _not_measured(task: Task, figures: BandFigures) -> str:
    return f"{where_of(task, figures.seen)}: not measured, so nothing can be said of its tracking."


def _stands_off(task: Task, figures: BandFigures, off_hz: float) -> str:
    way = "above" if off_hz > 0.0 else "below"
    where = where_of(task, figures.seen)
    return f"{where}: the circuit is centred {say_hz(abs(off_hz))} {way} where the receiver is tuned"


def _rocking(task: Task, off_hz: float) -> str:
    """Name the oscillator's adjuster at the low end, by which the receiver can be brought to the circuit instead."""
    for name, entry in task.receiver.adjusters.items():
        if entry.moves.startswith("conversion.") and entry.end == "low" and not entry.factory_only:
            way = "up" if off_hz > 0.0 else "down"
            return (
                f"At the low end move the receiver {way} to it by {name}, as far as the dial's limit allows, and go "
                "over the high end again; what then is left points to its coil or to bent plates of the gang."
            )
    return "Suspect its coil, or bent plates of the gang."


def drift_sentence(task: Task, figures: BandFigures, common: Estimate) -> str | None:
    """Say by how much one of a band's circuits has drifted, the pointer's error `common` to all bands taken off."""
    spot = figures.seen.spot
    if figures.pointer_marks is None or spot.source_khz is None:
        return None
    slope_hz = hz_per_mark(task, figures.seen)
    pointer = figures.pointer_marks
    sigma_hz = math.hypot(pointer.sigma, common.sigma) * abs(slope_hz)
    shift = Estimate(-(pointer.value - common.value) * slope_hz, sigma_hz)
    wanted_hz = spot.source_khz * HZ_PER_KHZ
    actual = one_circuit_hz(wanted_hz, shift, task.receiver.preselector.circuits)
    return f"If one of its circuits alone is at fault: {drift_behind(wanted_hz, actual).text}"
