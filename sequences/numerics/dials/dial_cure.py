"""What to do about a dial next: leave it, slide the pointer, or adjust the oscillator's ends. The least that serves."""

from collections.abc import Collection
from enum import StrEnum

from sequences.numerics.dials.dial import DialJudgement, Suffices

SURE_SIGMAS = 2.0


class Cure(StrEnum):
    """What can be done about a dial."""

    NOTHING = "nothing"
    SLIDE = "slide the pointer"
    ENDS = "adjust both ends"


def next_cure(judged: DialJudgement, limit_hz: float, available: Collection[Cure], done: Collection[Cure]) -> Cure:
    """Choose from what is available, each cure once: the oscillator is touched only where the pointer cannot serve.

    After the ends are set, the pointer shares out what bend is left, though it may have been slid before.

    Args:
        judged: The dial as measured now.
        limit_hz: The largest error allowed.
        available: What the receiver has adjusters for.
        done: What was done already since it was measured first.
    """
    if judged.suffices is Suffices.NOTHING_NEEDED:
        return Cure.NOTHING
    slid_in_vain = Cure.SLIDE in done and judged.worst_hz.value - SURE_SIGMAS * judged.worst_hz.sigma > limit_hz
    cannot_slide = judged.suffices is Suffices.NO or slid_in_vain
    if cannot_slide and Cure.ENDS in available and Cure.ENDS not in done:
        return Cure.ENDS
    slide = Cure.SLIDE in available and Cure.SLIDE not in done and _helps(judged)
    return Cure.SLIDE if slide else Cure.NOTHING


def _helps(judged: DialJudgement) -> bool:
    """Tell whether sliding surely makes the worst error smaller."""
    return judged.worst_hz.value - judged.remaining_hz.value > SURE_SIGMAS * judged.remaining_hz.sigma
