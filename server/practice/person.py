"""Hands for the practice bench: they do what is asked to the simulated receiver, at once or when told to."""

from typing import Any, Protocol

from sequences.engine.asks import CANNOT, DONE
from sequences.engine.events import Asked
from sequences.engine.questions import ConnectLeads, SetControl, TurnBy, TurnLive
from sequences.engine.run import Person
from sequences.numerics.adjusters.coach import Word
from server.practice.hands import controls_to, lead_to

FULL_SHARE = 0.75
"""Of a turn: less than this was stopped by the end of the travel or by a seized slug."""


class Doer(Protocol):
    """Whoever has hands on the practice bench."""

    def do(self, *tasks: dict[str, Any]) -> list[dict[str, Any]]:
        """Have tasks done, in order, and give the replies."""


class Turner(Protocol):
    """A hand that turns an adjuster by the guidance it sees."""

    @property
    def cannot(self) -> bool:
        """Whether the adjuster stopped both ways."""

    def take_hold(self) -> None:
        """Begin anew on an adjuster."""

    def move(self) -> Word | None:
        """Turn a little where that is asked for; give the word that was shown."""


class PracticePerson:
    """Does what is asked. `asker`, where there is one, is asked first, and is the one who chooses."""

    def __init__(self, hands: Doer, asker: Person | None = None, turner: Turner | None = None) -> None:
        """Work with the hands of a practice bench; `turner` turns live."""
        self._hands = hands
        self._asker = asker
        self._turner = turner

    def answer(self, asked: Asked) -> str:
        """Ask, then do.

        Raises:
            PracticeError: the practice bench refused; the sentence is its own.
        """
        if isinstance(asked.question, TurnLive) and self._turner is not None:
            self._turner.take_hold()
        wanted = self._asker.answer(asked) if self._asker is not None else asked.answers[0]
        return do_on_practice_bench(self._hands, asked) if wanted == DONE else wanted

    def signal(self) -> str | None:
        """Give the asker's signal, or where nobody is asked what the hand that turns live came to."""
        word = None if self._turner is None else self._turner.move()
        if self._asker is not None:
            return self._asker.signal()
        if self._turner is not None and self._turner.cannot:
            return CANNOT
        return DONE if word is Word.DONE else None


def do_on_practice_bench(hands: Doer, asked: Asked) -> str:
    """Move leads, set a control or turn an adjuster; give the answer that a person would."""
    match asked.question:
        case ConnectLeads() as question:
            leads = [lead_to(role, lead.to, lead.through) for role, lead in question.leads().items()]
            hands.do(*leads, *controls_to(question.controls))
        case SetControl(control, to):
            hands.do(*controls_to({control: to}))
        case TurnBy(adjuster, turns, _):
            return _turn(hands, adjuster, turns)
    return DONE


def _turn(hands: Doer, adjuster: str, turns: float) -> str:
    (reply,) = hands.do({"do": "turn", "adjuster": adjuster, "turns": turns})
    return DONE if float(reply["moved_turns"]) / turns >= FULL_SHARE else CANNOT
