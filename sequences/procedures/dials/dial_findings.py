"""The dial's errors as findings: each mark judged against its limit, and what the errors' shape says."""

from sequences.alignment.outcome import Finding, Phase, Task
from sequences.numerics.dials.dial import DialJudgement
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Signs, judge_error
from sequences.numerics.wording import say_khz
from sequences.procedures.dials.dial_marks import ErrorTable, MarkError
from sequences.procedures.sweeps.place import HZ_PER_KHZ

ERROR = "dial error"
SHIFT = "pointer shift that makes the worst error smallest"
REMAINING = "worst error after that shift"
SLOPE = "slope of the error over the scale"
BEND = "bend at the high end"


def mark_findings(task: Task, table: ErrorTable, signs: Signs | None) -> tuple[Finding, ...]:
    """Judge every mark."""
    return tuple(_mark_finding(task, mark, signs) for mark in table.marks)


def as_found_findings(task: Task, table: ErrorTable) -> tuple[Finding, ...]:
    """Keep the errors as they were before anything was turned, without a verdict."""
    return tuple(
        Finding(ERROR, _where(task, mark), "kHz", _khz(mark.error_hz), reason=mark.reason, when=Phase.AS_FOUND)
        for mark in table.marks
    )


def shape_findings(judged: DialJudgement | None) -> tuple[Finding, ...]:
    """Say what sliding the pointer cures and what it leaves, and what the rest looks like."""
    if judged is None:
        return ()
    return (
        Finding(SHIFT, "", "kHz", _khz(judged.shift_hz)),
        Finding(REMAINING, "", "kHz", _khz(judged.remaining_hz)),
        Finding(SLOPE, "", "kHz", _khz(judged.slope_hz)),
        Finding(BEND, "", "kHz", _khz(judged.bend_hz), reason=None if judged.bend_hz else "A bend takes three marks."),
    )


def _mark_finding(task: Task, mark: MarkError, signs: Signs | None) -> Finding:
    where, error = _where(task, mark), _khz(mark.error_hz)
    if error is None:
        return Finding(ERROR, where, "kHz", None, reason=mark.reason)
    judged = judge_error(f"The dial error at {where}", error, task.step.limits[0].most, say_khz, signs=signs)
    return Finding(ERROR, where, "kHz", error, judged)


def _where(task: Task, mark: MarkError) -> str:
    band = f"band {mark.spot.band}, " if len({spot.band for spot in task.step.spots}) > 1 else ""
    return f"{band}{mark.mark_khz:g} kHz"


def _khz(estimate: Estimate | None) -> Estimate | None:
    return None if estimate is None else Estimate(estimate.value / HZ_PER_KHZ, estimate.sigma / HZ_PER_KHZ)
