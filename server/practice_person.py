"""Hands for the practice bench: they do what is asked to the simulated receiver, at once or when told to."""

from typing import Any, Protocol

from sequences.engine.asks import CANNOT, DONE
from sequences.engine.events import Asked
from sequences.engine.run import Person

FULL_SHARE = 0.75
"""Of a turn: less than this was stopped by the end of the travel or by a seized slug."""


class Doer(Protocol):
    """Whoever has hands on the practice bench."""

    def do(self, *tasks: dict[str, Any]) -> list[dict[str, Any]]:
        """Have tasks done, in order, and give the replies."""


class PracticePerson:
    """Does what is asked. `asker`, where there is one, is asked first, and is the one who chooses."""

    def __init__(self, hands: Doer, asker: Person | None = None) -> None:
        """Work with the hands of a practice bench."""
        self._hands = hands
        self._asker = asker

    def answer(self, asked: Asked) -> str:
        """Ask, then do.

        Raises:
            PracticeError: the practice bench refused; the sentence is its own.
        """
        wanted = self._asker.answer(asked) if self._asker is not None else asked.answers[0]
        return do_on_practice_bench(self._hands, asked) if wanted == DONE else wanted

    def signal(self) -> str | None:
        """Give the asker's signal."""
        return None if self._asker is None else self._asker.signal()


def do_on_practice_bench(hands: Doer, asked: Asked) -> str:
    """Move leads, set a control or turn an adjuster; give the answer that a person would."""
    if asked.action == "connect":
        hands.do(*(_lead(role, asked.detail[role]) for role in ("source", "meter", "counter")))
    elif asked.action == "set":
        hands.do({"do": "set", "control": asked.subject, "to": asked.detail["to"]})
    elif asked.action == "turn":
        return _turn(hands, asked.subject, float(asked.detail["turns"]))
    return DONE


def _lead(role: str, lead: dict[str, Any]) -> dict[str, Any]:
    return {"do": "connect", "role": role, "to": lead["to"], "through": lead["through"]}


def _turn(hands: Doer, adjuster: str, turns: float) -> str:
    (reply,) = hands.do({"do": "turn", "adjuster": adjuster, "turns": turns})
    return DONE if float(reply["moved_turns"]) / turns >= FULL_SHARE else CANNOT
