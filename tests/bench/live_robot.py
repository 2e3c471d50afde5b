"""A robot with hands like a person's: it turns live by nothing but the guidance, in the run's own time."""

from dataclasses import dataclass, field
from typing import Protocol

from sequences.engine.events import Asked, Event, GaugeKind, Guidance, TurnWay
from sequences.numerics.adjusters.coach import Word
from tests.bench.robot import Robot
from tests.human_hands import FINE, HandKind, HumanHand

TOLD = {TurnWay.CLOCKWISE: 1, TurnWay.ANTICLOCKWISE: -1, None: 0}
PATIENCE_S = 600.0
"""After so long over one adjuster a person gives up."""


class Time(Protocol):
    """What time passes on."""

    def sleep(self, duration_s: float) -> None:
        """Let it pass."""


@dataclass
class LiveRobot(Robot):
    """Turns by the guidance, a `kind` of hand. `look_s`: what a look takes beside what the instruments take.

    `misread`: takes the told way for the other one, as with a slug turned from below. `words`: as they changed;
    `moves`: how many it made, by adjuster; `seconds`: how long it took, by adjuster.
    """

    kind: HandKind = FINE
    seed: int = 1
    misread: bool = False
    clock: Time | None = None
    look_s: float = 0.15
    words: list[Word] = field(default_factory=list)
    moves: dict[str, int] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    last: Guidance | None = None
    _holding: str | None = None
    _hand: HumanHand | None = None
    _began_s: float | None = None

    def see(self, event: Event) -> None:
        """Look at what is shown."""
        if isinstance(event, Guidance):
            self.last = event

    def answer(self, asked: Asked) -> str:
        """Take hold of an adjuster, or do what any robot does."""
        if asked.action != "adjust":
            return super().answer(asked)
        self.done.append(asked)
        self._holding, self.last, self._began_s = asked.subject, None, None
        self.seed += 1
        self._hand = HumanHand(self.kind, self.seed)
        return "ready"

    def signal(self) -> str | None:
        """Turn by what is shown, and say when it is done or cannot be."""
        shown, self.last = self.last, None
        if self._holding is None or self._hand is None or shown is None or shown.gauge is GaugeKind.STEP_AND_FIT:
            return None
        if self.clock is not None:
            self.clock.sleep(self.look_s)
        if not self.words or self.words[-1] is not shown.word:
            self.words.append(shown.word)
        self._began_s = shown.time_s if self._began_s is None else self._began_s
        self.seconds[self._holding] = shown.time_s - self._began_s
        assert self.seconds[self._holding] < PATIENCE_S, f"gave up: {shown}"
        self._hand.see(shown.time_s, shown, TOLD[shown.way] * (-1 if self.misread else 1))
        deed = self._hand.act(shown.time_s)
        said = self._turn_by(deed) if isinstance(deed, float) else deed
        if said is not None:
            self._holding = None
        return said

    def _turn_by(self, turns: float) -> str | None:
        assert self._holding is not None
        assert self._hand is not None
        if turns == 0.0:
            return None  # it all went into the slack
        moved = self.bench.do(do="turn", adjuster=self._holding, turns=turns)["moved_turns"]
        self.moves[self._holding] = self.moves.get(self._holding, 0) + 1
        return self._hand.felt(moved, turns)
