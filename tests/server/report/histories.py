"""What may have happened in a step, made by hand."""

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.alignment.progress import Measured, StepRecord
from sequences.kinds import alignment_plan
from sequences.numerics.figures import Estimate
from sequences.receiver.file import shipped_receivers
from server.report.record import StepHistory
from tests.quantities import called


def finding(name: str, where: str, value: float | None, when: Phase | None = None) -> Finding:
    """Make a figure in dB; None for one that could not be measured."""
    figure = None if value is None else Estimate(value, 0.1)
    return Finding(called(name, "dB"), where, figure, reason=None if figure else "It shows only by turning.", when=when)


def history(
    found: list[Finding], adjusted: list[Finding] | None = None, left: list[Finding] | None = None
) -> StepHistory:
    """Make what happened in a step."""
    step = alignment_plan(shipped_receivers()[0]).steps[0]
    measured = [
        Measured(StepOutcome(step.id, phase, tuple(findings)), float(number))
        for number, (phase, findings) in enumerate(zip(Phase, (found, adjusted, left), strict=True))
        if findings is not None
    ]
    return StepHistory(
        step=step,
        record=StepRecord(step.id, measured=tuple(measured)),
        under_way=False,
        found=measured[0],
        adjusted=tuple(each for each in measured if each.outcome.phase is Phase.ADJUST),
        left=measured[-1] if len(measured) > 1 else None,
        decisions=(),
        remarks=(),
        photos=(),
    )
