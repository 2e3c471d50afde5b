"""What was left alone in a step, and why."""

from sequences.alignment.progress import Choice, Ending
from sequences.numerics.verdicts.verdict import Standing, Verdict
from server.report.record import StepHistory
from server.report.words import listed, typeset

WHY = {
    Ending.UNMEASURED: "It was not measured.",
    Ending.BLOCKED: "Something before it must be put right first.",
    Ending.SUSPECT: "A part is suspected, and no adjuster mends that.",
    Ending.GOOD: "Within its limits as found, so that nothing was turned.",
}
BY_DECISION = "It was decided to leave it as it is."
UNDECIDED = "It has not been decided what to do."
NOTHING_TO_TURN = "Nothing that moves it may be turned."


def left_alone(history: StepHistory) -> tuple[str, ...]:
    """Say what was left alone, and why; nothing of a step in which all was put right, or which was not begun."""
    return tuple(text for text in (_why_left(history), *_not_worth_it(history), _set_in_the_factory(history)) if text)


def _why_left(history: StepHistory) -> str:
    record = history.record
    if record is None:
        return ""
    if record.reason:
        return typeset(record.reason)
    if history.under_way:
        return "Not finished."
    if record.ending is Ending.GOOD and history.adjusted:
        return ""
    return WHY.get(record.ending) or _by_decision(history)


def _by_decision(history: StepHistory) -> str:
    if all(each.measure_only for each in history.step.adjusters):
        return NOTHING_TO_TURN
    return BY_DECISION if Choice.LEAVE in history.decisions else UNDECIDED


def _not_worth_it(history: StepHistory) -> tuple[str, ...]:
    """Give the sentences on figures that were not within their limits and best left all the same."""
    findings = () if history.last is None else history.last.outcome.findings
    judged = [each.judged for each in findings if each.judged is not None]
    return tuple(
        typeset(each.text)
        for each in judged
        if each.verdict in {Verdict.LEAVE, Verdict.MEASURE_AGAIN} and each.standing is not Standing.WITHIN
    )


def _set_in_the_factory(history: StepHistory) -> str:
    names = tuple(each.name for each in history.step.adjusters if each.measure_only)
    if not names:
        return ""
    return f"{listed(names)} {'was' if len(names) == 1 else 'were'} set in the factory and not turned."
