"""What a step's measurements said of themselves: doubts, and why a part is suspected."""

from sequences.alignment.progress import Ending
from sequences.numerics.verdicts.verdict import Verdict
from server.report.record import StepHistory
from server.report.words import typeset


def doubts_of(history: StepHistory) -> tuple[str, ...]:
    """Give every doubt about a step's figures, once."""
    return tuple(dict.fromkeys(typeset(text) for one in history.outcomes for text in one.doubts))


def suspicions_of(history: StepHistory) -> tuple[str, ...]:
    """Say what led to suspecting a part, where the step still ends so."""
    if history.record is None or history.record.ending is not Ending.SUSPECT:
        return ()
    judged = [each.judged for one in history.outcomes for each in one.findings if each.judged is not None]
    return tuple(dict.fromkeys(typeset(each.text) for each in judged if each.verdict is Verdict.SUSPECT))
