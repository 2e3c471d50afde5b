"""Hands like a person's: they turn in moves with rests between, react late, overshoot, have slack, mistake the way.

A hand knows the adjuster it was asked to hold and what the display shows; never a figure of the simulator's. It is
given the time and what is shown, and says how far the tool in its fingers turns now. All of it follows from its seed.
"""

from collections import deque
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from sequences.numerics.adjusters.coach import Trend, Word

DEGREES_A_TURN = 360.0
BACK = {Word.TURN_BACK, Word.PAST_IT}
DOUBTING_MOVES = 4
"""Moves the other way that made it only worse before a person turns round again."""

FELT_MOVES = 4
"""Moves that went nowhere before a person takes that for a stop."""


@dataclass(frozen=True, slots=True)
class HandKind:
    """How somebody turns, in degrees and seconds.

    `moves_deg`: what one move is where nothing is told of its size; `finest_deg`: the least move when a small one is
    wanted. `wrong_first`: how often the first way is mistaken though it is told. `scatter`: of a move that is meant to
    be so long, one sigma.
    """

    name: str
    moves_deg: tuple[float, float]
    finest_deg: float
    every_s: float = 0.75
    reaction_s: float = 0.3
    overshoot: float = 0.15
    scatter: float = 0.2
    backlash_deg: float = 3.0
    wrong_first: float = 0.15


COARSE = HandKind("coarse", (15.0, 45.0), 5.0)
FINE = HandKind("fine", (2.0, 15.0), 2.0)
SLOW = HandKind("slow", (2.0, 15.0), 2.0, every_s=2.0, reaction_s=0.8)
CLUMSY = HandKind("clumsy", (5.0, 40.0), 6.0, overshoot=0.4, scatter=0.4, wrong_first=0.4)
KINDS = (COARSE, FINE, SLOW, CLUMSY)


class Shown(Protocol):
    """What a display shows; guidance fits, and so does a coach's own advice."""

    @property
    def word(self) -> Word:
        """What to do."""

    @property
    def trend(self) -> Trend:
        """Whether it comes nearer."""

    @property
    def turns_left(self) -> float | None:
        """How far, in turns."""

    @property
    def of_last_move(self) -> float | None:
        """How far, as a share of the last move."""


@dataclass
class HumanHand:
    """One person with hold of one adjuster. `turned_by`: what the tool was turned by so far, slack and all."""

    kind: HandKind
    seed: int
    way: int = 1
    moves: int = 0
    _shown: deque[tuple[float, Shown, int]] = field(default_factory=deque)

    def __post_init__(self) -> None:
        """Take hold."""
        self._random = np.random.default_rng(self.seed)
        self.way = int(self._random.choice((-1, 1)))
        self._slack_deg, self._pulled = 0.0, self.way
        self._next_s: float | None = None
        self.obeying = False
        self._since_round = 0
        self._last_deg = float(np.mean(self.kind.moves_deg))
        self._mistaken: bool | None = None
        self._nowhere = 0
        self._ends: set[int] = set()

    def see(self, now_s: float, shown: Shown, told: int = 0) -> None:
        """Look at the display; `told` is the way it names, +1 clockwise, 0 where it names none."""
        self._shown.append((now_s, shown, told))
        while len(self._shown) > 1 and self._shown[1][0] <= now_s - self.kind.reaction_s:
            self._shown.popleft()

    def act(self, now_s: float) -> float | str | None:
        """Give the turns that the adjuster is pulled by now, clockwise positive, or what is said; None while it waits.

        Slack is taken off: what is given is what reaches the adjuster, 0.0 where all of a move went into the slack.
        """
        if not self._shown or self._shown[0][0] > now_s - self.kind.reaction_s:
            return None
        _, shown, told = self._shown[0]
        if shown.word is Word.DONE:
            return "done"
        if self._next_s is not None and now_s < self._next_s:
            return None
        self._next_s = now_s + self.kind.every_s * float(self._random.uniform(0.8, 1.2))
        if shown.word in {Word.HOLD, Word.WAIT}:
            self.obeying = False
            return None
        self._choose_way(shown, told)
        return self._pull(self._wanted_deg(shown))

    def felt(self, moved_turns: float, wanted_turns: float) -> str | None:
        """Feel what became of a move: stopped both ways, an adjuster cannot be turned."""
        self._nowhere = self._nowhere + 1 if abs(moved_turns) < 0.25 * abs(wanted_turns) else 0
        if self._nowhere < FELT_MOVES:
            return None
        self._nowhere = 0
        self._ends.add(self.way)
        self.way, self._since_round = -self.way, 0
        return "cannot" if len(self._ends) > 1 else None

    def _choose_way(self, shown: Shown, told: int) -> None:
        back = shown.word in BACK
        wanted = self.way
        if self._mistaken is None:
            self._mistaken = bool(self._random.random() < self.kind.wrong_first)
            wanted = told * (-1 if self._mistaken else 1) or self.way
        elif told and not self._mistaken:
            wanted = told
        elif back and not self.obeying:
            wanted, self._mistaken = -self.way, False
        elif back and shown.trend is Trend.FARTHER and self._since_round >= DOUBTING_MOVES:
            wanted = -self.way
        self.obeying = back
        self._since_round = 0 if wanted != self.way else self._since_round + 1
        self.way = wanted

    def _wanted_deg(self, shown: Shown) -> float:
        low, high = self.kind.moves_deg
        if shown.of_last_move is not None:
            meant = shown.of_last_move * self._last_deg
        elif shown.turns_left is not None:
            meant = 0.8 * shown.turns_left * DEGREES_A_TURN
        else:
            meant = float(self._random.uniform(low, high))
        meant *= 1.0 + self.kind.scatter * float(self._random.normal())
        if self._random.random() < self.kind.overshoot:
            meant *= 1.0 + float(self._random.uniform(0.0, 0.5))
        self._last_deg = float(min(max(meant, self.kind.finest_deg), high))
        return self._last_deg

    def _pull(self, degrees: float) -> float:
        self.moves += 1
        if self.way != self._pulled:
            self._slack_deg, self._pulled = self.kind.backlash_deg, self.way
        lost = min(self._slack_deg, degrees)
        self._slack_deg -= lost
        return self.way * (degrees - lost) / DEGREES_A_TURN
