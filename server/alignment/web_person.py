"""The person at the page: a question stands in the bench's view until its answer comes by a request."""

import time
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from sequences.engine.events import Asked
from sequences.engine.run import StopFlag
from sequences.errors import Stopped
from server.alignment.wishes import StepAgain
from server.bench.stop_bell import StopBell
from server.errors import OrderRefused, StaleRequest
from server.plain import Json, to_plain

SIGNALS = ("step", "done", "cannot")
MOST_SIGNALS = 64
"""What a foot on a pedal can give while the bench looks away; older ones are dropped."""

UNATTENDED_S = 900.0
"""How long the source may stay on with no sign of the person: no answer, no signal, nothing turned."""

NOTHING_RUNS = "Nothing is being measured now, so there is nothing to begin again."

LOOK_EVERY_S = 0.5
"""How often it is looked whether that is so."""

NOBODY = (
    "Nobody answered for {minutes:.0f} minutes while the source was on, so its output was switched off; "
    "begin the step again to go on where it was."
)


@dataclass(frozen=True, slots=True)
class Question:
    """A question with the number its answer must name."""

    number: int
    asked: Asked

    def to_plain(self) -> dict[str, Json]:
        """Give it as the API shows it."""
        return {"number": self.number, **to_plain(self.asked)}


@dataclass(slots=True)
class _State:
    """What threads share, changed under the stop's own lock."""

    question: Question | None = None
    given: str | None = None
    signals: deque[str] = field(default_factory=lambda: deque(maxlen=MOST_SIGNALS))
    output_on: bool = False
    heard_s: float = 0.0
    kept: int = -1
    """The number of the latest question whose answer is kept."""
    running: bool = False
    again: bool = False
    """Whether the run that is on is to begin again."""


class WebPerson:
    """Waits on the bench's thread for what other threads bring in."""

    def __init__(
        self,
        stop: StopBell,
        numbers: Iterator[int],
        show: Callable[[Question | None], None],
        clock: Callable[[], float] = time.monotonic,
        unattended_s: float = UNATTENDED_S,
    ) -> None:
        """Be the person of one session.

        Args:
            stop: ends every wait.
            numbers: gives each question a number that no other ever had.
            show: called with a question when it is asked, and with None when it no longer stands.
            clock: seconds that never jump.
            unattended_s: how long the source may stay on with no sign of the person.
        """
        self._stop = stop
        self._numbers = numbers
        self._show = show
        self._clock = clock
        self._unattended_s = unattended_s
        self._number = -1
        self._state = _State(heard_s=clock())
        self.ended_because: str | None = None
        """Why this person ended the session, where it did."""

    def answer(self, asked: Asked) -> str:
        """Wait for the answer.

        Raises:
            StepAgain: the run is to begin again.
            Stopped: the session is stopped, or the source was on with nobody there.
        """
        self._number = next(self._numbers)
        question = Question(self._number, asked)
        with self._stop.changing():
            self._state.question, self._state.given = question, None
            self._state.signals.clear()
            self._state.heard_s = self._clock()
        self._show(question)
        try:
            return self._wait()
        finally:
            with self._stop.changing():
                self._state.question = None
            self._show(None)

    def _wait(self) -> str:
        while not self._stop.is_set():
            self._stop.wait_for(lambda: self._state.given is not None or self._state.again, self._patience_s())
            self.require_no_wish()
            if self._state.given is not None:
                return self._state.given
            self.require_attended()
        raise Stopped("The run was stopped.")

    def _patience_s(self) -> float | None:
        return min(max(self._left_s(), 0.0), LOOK_EVERY_S) if self._state.output_on else None

    def _left_s(self) -> float:
        return self._state.heard_s + self._unattended_s - self._clock()

    def require_attended(self) -> None:
        """Refuse to go on while the source is on and the person gave no sign for too long.

        Raises:
            Stopped: it was so; `ended_because` says it to the person.
        """
        if self._state.output_on and self._left_s() <= 0 and not self._stop.is_set():
            self.ended_because = NOBODY.format(minutes=self._unattended_s / 60)
            raise Stopped(self.ended_because)

    def run_is(self, running: bool) -> None:
        """Be told that a run begins or has ended: only one that is on can begin again, and each is asked anew."""
        with self._stop.changing():
            self._state.running, self._state.again = running, False

    def give_again(self) -> None:
        """Take the wish that the run that is on begins again.

        Raises:
            StaleRequest: none is on.
        """
        with self._stop.changing():
            if not self._state.running or self._stop.is_set():
                raise StaleRequest(NOTHING_RUNS)
            self._state.again = True
            self._state.heard_s = self._clock()

    def require_no_wish(self) -> None:
        """End the run that is on where it is to begin again.

        Raises:
            StepAgain: it is to.
        """
        if self._state.again and not self._stop.is_set():
            raise StepAgain(StepAgain.text)

    def signal(self) -> str | None:
        """Give the oldest signal that was not given yet."""
        signals = self._state.signals
        return signals.popleft() if signals else None

    def source_is(self, output_on: bool) -> None:
        """Be told how the source stands: what is asked while it is on is not waited for without end."""
        with self._stop.changing():
            self._state.output_on = output_on

    def heard(self) -> None:
        """Be told that the person is there."""
        with self._stop.changing():
            self._state.heard_s = self._clock()

    @property
    def question(self) -> Question | None:
        """The question that waits."""
        return self._state.question

    def give_answer(self, number: int, answer: str) -> None:
        """Take the answer to the question that waits.

        Raises:
            StaleRequest: no question waits, or another does.
            OrderRefused: it is not one of its answers.
        """
        with self._stop.changing():
            question = self._waiting(number)
            answers = question.asked.answers
            if answers and answer not in answers:
                raise OrderRefused(f'"{answer}" is no answer to this question; give one of {", ".join(answers)}.')
            self._state.given = answer
            self._state.heard_s = self._clock()

    def answer_is_kept(self) -> None:
        """Be told that the answer to the latest question is on disk."""
        with self._stop.changing():
            self._state.kept = self._number

    def wait_until_kept(self, number: int, longest_s: float) -> None:
        """Wait until the answer to a question is on disk, or the session is stopped."""
        self._stop.wait_for(lambda: self._state.kept >= number, longest_s)

    def require(self, number: int) -> Asked:
        """Give the question that waits.

        Raises:
            StaleRequest: it is not that of this number.
        """
        with self._stop.changing():
            return self._waiting(number).asked

    def _waiting(self, number: int) -> Question:
        question = self._state.question
        gone = self._state.given is not None or self._state.again or self._stop.is_set()
        if question is None or gone:
            raise StaleRequest("No question waits for an answer; look at the bench again.")
        if question.number != number:
            raise StaleRequest("That question no longer stands; answer the one that waits now.")
        return question

    def give_signal(self, signal: str) -> None:
        """Take a signal for the adjusting that is under way.

        Raises:
            StaleRequest: a question waits, which wants an answer and not a signal.
        """
        with self._stop.changing():
            if self._state.question is not None:
                raise StaleRequest("A question waits; answer it first.")
            self._state.signals.append(signal)
            self._state.heard_s = self._clock()


class WishOrStop:
    """What a run with the person at the page looks at before each request: the stop, and the wish to begin again."""

    def __init__(self, person: WebPerson, stop: StopFlag) -> None:
        """Look at both."""
        self._person = person
        self._stop = stop

    def is_set(self) -> bool:
        """Say whether the run should end now.

        Raises:
            StepAgain: it should, to begin again.
        """
        self._person.require_no_wish()
        return self._stop.is_set()
