"""What hands do on the practice bench, as questions with answers: so that a record of them puts a receiver back.

A person at a terminal has the tool's own hands do what a question asks; at the page the person's hands do it, as they
like, before the question is answered. There each deed is kept on its own, and the question is marked as done by hand.
"""

import dataclasses
from collections.abc import Iterable, Mapping
from typing import Any

from sequences.engine.asks import DONE
from sequences.engine.events import Asked
from server.practice.person import Doer, do_on_practice_bench
from server.records.notes import Answered

BY_HAND = "by_hand"
WHY = "Done on the practice bench."
ROLES = ("source", "meter", "counter")


def by_hand(asked: Asked) -> Asked:
    """Mark a question whose deed is kept on its own."""
    return dataclasses.replace(asked, detail={**asked.detail, BY_HAND: True})


def turned(adjuster: str, turns: float) -> Asked:
    """An adjuster was turned so far."""
    return Asked("turn", adjuster, WHY, (DONE,), {"turns": turns})


def control_set(control: str, to: str | float) -> Asked:
    """A control was set."""
    return Asked("set", control, WHY, (DONE,), {"to": to})


def connected(leads: Mapping[str, Any], controls: Mapping[str, str | float] | None = None) -> Asked:
    """A lead was moved; this is how all of them stand now, and the controls that were set with them."""
    detail = {role: {"to": leads[role]["to"], "through": leads[role]["through"]} for role in ROLES}
    return Asked("connect", "leads", WHY, (DONE,), {**detail, "controls": dict(controls or {})})


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
    if asked.action == "choose" or asked.detail.get(BY_HAND):
        return False
    return asked.action != "turn" or "turns" in asked.detail
