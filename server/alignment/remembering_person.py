"""A person who is asked nothing twice: every answer is kept, and what stands already is not asked for again."""

from collections.abc import Callable, Sequence
from threading import Lock

from sequences.alignment.standing import Standing
from sequences.engine.asks import DONE
from sequences.engine.events import Asked
from sequences.engine.run import Person
from server.alignment.walk import Log
from server.records.notes import Answered


class RememberingPerson:
    """Stands before another person, keeps the answers, and passes over what stands."""

    def __init__(self, person: Person, log: Log, standing: Standing, passed: Callable[[Asked], None]) -> None:
        """Ask `person`; `passed` is told of each question that need not be asked."""
        self._person = person
        self._log = log
        self._standing = standing
        self._passed = passed
        self._lock = Lock()

    def answer(self, asked: Asked) -> str:
        """Ask, unless it stands already."""
        if self._standing.holds(asked):
            self._passed(asked)
            return DONE
        answer = self._person.answer(asked)
        self._log.answered(asked, answer)
        self._took(asked, answer)
        return answer

    def took(self, deed: Asked) -> None:
        """Be told that hands did something on their own. May be called from any thread."""
        self._took(deed, DONE)

    def _took(self, asked: Asked, answer: str) -> None:
        with self._lock:
            self._standing = self._standing.after(asked, answer)

    def signal(self) -> str | None:
        """Give the person's signal."""
        return self._person.signal()


def standing_after(standing: Standing, answers: Sequence[Answered]) -> Standing:
    """Give what stands after all these answers."""
    for each in answers:
        standing = standing.after(each.asked, each.answer)
    return standing
