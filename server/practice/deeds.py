"""What hands do on the practice bench, as questions with answers: so that a record of them puts a receiver back.

A person at a terminal has the tool's own hands do what a question asks; at the page the person's hands do it, as they
like, before the question is answered. There each deed is kept on its own, and the question is marked as done by hand.
"""

import dataclasses
from collections.abc import Iterable, Mapping

from sequences.engine.asks import DONE
from sequences.engine.events import Asked
from sequences.engine.questions import ConnectLeads, Lead, Question, SetControl, TurnBy, plain_of
from server.practice.person import Doer, do_on_practice_bench
from server.records.notes import Answered

BY_HAND = "by_hand"
WHY = "Done on the practice bench."


def by_hand(asked: Asked) -> Asked:
    """Mark a question whose deed is kept on its own."""
    return dataclasses.replace(asked, detail={**asked.detail, BY_HAND: True})


def turned(adjuster: str, turns: float) -> Asked:
    """An adjuster was turned so far."""
    return _done(TurnBy(adjuster, turns))


def control_set(control: str, to: str | float) -> Asked:
    """A control was set."""
    return _done(SetControl(control, to))


def connected(leads: Mapping[str, Lead], controls: Mapping[str, str | float] | None = None) -> Asked:
    """A lead was moved; this is how all of them stand now, and the controls that were set with them."""
    return _done(ConnectLeads(leads["source"], leads["meter"], leads["counter"], controls or {}))


def _done(question: Question) -> Asked:
    action, subject, detail = plain_of(question)
    return Asked(action, subject, WHY, (DONE,), detail)


def do_again(hands: Doer, answers: Iterable[Answered]) -> None:
    """Bring a receiver that has just come up to where these answers left it.

    Raises:
        HandsRefused: the practice bench cannot do one of them; the sentence is its own.
        PracticeError: it is gone.
    """
    for each in answers:
        if _was_done_as_asked(each.asked):
            do_on_practice_bench(hands, each.asked)


def _was_done_as_asked(asked: Asked) -> bool:
    return not asked.detail.get(BY_HAND) and isinstance(asked.question, ConnectLeads | SetControl | TurnBy)
