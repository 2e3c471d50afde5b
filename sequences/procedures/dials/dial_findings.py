"""The dial's errors as findings: each mark judged against its limit, and what the errors' shape says."""

from sequences.alignment.outcome import Finding, Phase, Task
from sequences.numerics.dials.dial import DialJudgement
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Signs, judge_error
from sequences.numerics.wording import say_khz
from sequences.procedures.dials.dial_marks import ErrorTable, MarkError
from sequences.procedures.sweeps.place import HZ_PER_KHZ
from sequences.quantities import Phrase, Quantity, Sense

ERROR = Quantity(
    "dial-error",
    "dial error",
    "kHz",
    Sense.EITHER_WAY,
    "where the receiver really is, less what its dial says",
    Phrase("off its dial by {size}"),
)
SHIFT = Quantity(
    "pointer-shift",
    "pointer shift that makes the worst error smallest",
    "kHz",
    meaning="how far to slide the dial's pointer to be least wrong",
)
REMAINING = Quantity(
    "dial-error-after-shift",
    "worst error after that shift",
    "kHz",
    meaning="the largest dial error that sliding the pointer would leave",
)
SLOPE = Quantity(
    "dial-slope",
    "slope of the error over the scale",
    "kHz",
    meaning="how much the dial error grows from one end of the scale to the other",
)
BEND = Quantity(
    "dial-bend",
    "bend at the high end",
    "kHz",
    meaning="how much the dial error departs from a straight line at the high end",
)
QUANTITIES = (ERROR, SHIFT, REMAINING, SLOPE, BEND)


def mark_findings(task: Task, table: ErrorTable, signs: Signs | None) -> tuple[Finding, ...]:
    """Judge every mark."""
    return tuple(_mark_finding(task, mark, signs) for mark in table.marks)


def as_found_findings(task: Task, table: ErrorTable) -> tuple[Finding, ...]:
    """Keep the errors as they were before anything was turned, without a verdict."""
    return tuple(
        Finding(
            ERROR,
            _where(task, mark),
            _khz(mark.error_hz),
            reason=mark.reason,
            when=Phase.AS_FOUND,
            mark=mark.mark_khz,
        )
        for mark in table.marks
    )


def shape_findings(judged: DialJudgement | None) -> tuple[Finding, ...]:
    """Say what sliding the pointer cures and what it leaves, and what the rest looks like."""
    if judged is None:
        return ()
    return (
        Finding(SHIFT, "", _khz(judged.shift_hz)),
        Finding(REMAINING, "", _khz(judged.remaining_hz)),
        Finding(SLOPE, "", _khz(judged.slope_hz)),
        Finding(BEND, "", _khz(judged.bend_hz), reason=None if judged.bend_hz else "A bend takes three marks."),
    )


def _mark_finding(task: Task, mark: MarkError, signs: Signs | None) -> Finding:
    where, error = _where(task, mark), _khz(mark.error_hz)
    if error is None:
        return Finding(ERROR, where, None, reason=mark.reason, mark=mark.mark_khz)
    judged = judge_error(f"The dial error at {where}", error, task.step.limits[0].most, say_khz, signs=signs)
    return Finding(ERROR, where, error, judged, mark=mark.mark_khz)


def _where(task: Task, mark: MarkError) -> str:
    band = f"band {mark.spot.band}, " if len({spot.band for spot in task.step.spots}) > 1 else ""
    return f"{band}{mark.mark_khz:g} kHz"


def _khz(estimate: Estimate | None) -> Estimate | None:
    return None if estimate is None else Estimate(estimate.value / HZ_PER_KHZ, estimate.sigma / HZ_PER_KHZ)
