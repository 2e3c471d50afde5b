"""The practice bench's own hand on an adjuster: it turns live, by the guidance that a person would follow.

On real instruments the person turns. On the practice bench at a terminal there is nothing to take hold of, so this
hand does it, and the person sees what it is like.
"""

from collections.abc import Callable

from sequences.engine.events import GaugeKind, Guidance, TurnWay
from sequences.numerics.adjusters.coach import Trend, Word
from server.practice.person import Doer

LONG_TURNS, SHORT_TURNS, LEAST_TURNS = 0.1, 0.02, 0.005
NEAR_ZONES = 5.0
PATIENT_MOVES = 5
STOPPED_AFTER = 4
"""Moves that moved nothing before it is taken for a stop."""

MOVE_S = 0.6
"""Between two moves: as long as a person takes, for the display is made for persons."""

PATIENCE_S = 300.0
"""After so long the hand lets go: whoever watches would long have."""


class PracticeTurner:
    """Holds one adjuster at a time."""

    def __init__(self, hands: Doer, made: Callable[[str, float], None] = lambda _adjuster, _turns: None) -> None:
        """Turn with the hands of a practice bench; `made` is told of each turn, in turns clockwise."""
        self._hands = hands
        self._made = made
        self._shown: Guidance | None = None
        self.take_hold()

    def take_hold(self) -> None:
        """Begin anew on an adjuster."""
        self._way, self._moves = 1, 0
        self._began_s: float | None = None
        self._moved_s = self._seen_s = 0.0
        self._last_turns = LONG_TURNS
        self._obeying = False
        self._stopped = 0
        self._ends: set[int] = set()
        self._at_stop = False

    def see(self, guidance: Guidance) -> None:
        """Look at what is shown."""
        self._shown = None if guidance.gauge is GaugeKind.STEP_AND_FIT else guidance

    def move(self) -> Word | None:
        """Turn a little where that is asked for; give the word that was shown, None where there was none.

        Raises:
            PracticeError: the practice bench refused.
        """
        shown, self._shown = self._shown, None
        if shown is None:
            return None
        self._seen_s = shown.time_s
        if self._began_s is None:
            self._began_s = self._moved_s = shown.time_s
        if shown.time_s - self._moved_s < MOVE_S:
            return shown.word
        self._moved_s = shown.time_s
        if shown.word in {Word.TURN, Word.TURN_BACK, Word.PAST_IT}:
            self._choose_way(shown)
            self._turn(shown)
        else:
            self._obeying = False  # what is told after a rest is told anew
        return shown.word

    @property
    def cannot(self) -> bool:
        """Whether the adjuster stopped both ways, or the one way that it was told to go; or patience is at its end."""
        return self._at_stop or len(self._ends) > 1 or self._seen_s - (self._began_s or 0.0) > PATIENCE_S

    def _choose_way(self, shown: Guidance) -> None:
        self._moves += 1
        back = shown.word in {Word.PAST_IT, Word.TURN_BACK}
        wanted = self._way
        if shown.way is not None:
            wanted = 1 if shown.way is TurnWay.CLOCKWISE else -1
        elif back and (not self._obeying or (shown.trend is Trend.FARTHER and self._moves > PATIENT_MOVES)):
            wanted = -self._way
        self._obeying = back
        if wanted != self._way:
            self._way, self._moves = wanted, 0

    def _turn(self, shown: Guidance) -> None:
        near = shown.error is not None and shown.within is not None and abs(shown.error) < NEAR_ZONES * shown.within
        turns = SHORT_TURNS if near else LONG_TURNS
        if shown.of_last_move is not None:
            turns = min(max(shown.of_last_move * self._last_turns, LEAST_TURNS), 2.0 * LONG_TURNS)
        elif shown.turns_left is not None:
            turns = min(max(0.7 * shown.turns_left, SHORT_TURNS), 2.0 * LONG_TURNS)
        self._last_turns = turns
        (reply,) = self._hands.do({"do": "turn", "adjuster": shown.adjuster, "turns": self._way * turns})
        self._made(shown.adjuster, float(reply["moved_turns"]))
        self._stopped = 0 if abs(float(reply["moved_turns"])) > 0.0 else self._stopped + 1
        if self._stopped >= STOPPED_AFTER:
            self._stopped = 0
            self._at_stop = shown.way is not None
            self._ends.add(self._way)
            self._way = -self._way
