"""A robot whose hands turn live: it looks at nothing but the guidance, as a person does, with slack and coarse fingers.

Its manners are those of a person: it turns a little between two looks, the less the nearer it is told to be; it turns
round once when told to turn back, and waits for what comes of it before it turns round again; it feels a stop.
"""

from dataclasses import dataclass, field

from sequences.engine.events import Asked, Event, Guidance, TurnWay
from sequences.numerics.adjusters.coach import Trend, Word
from tests.bench.robot import Robot

PATIENCE = 600
"""Guidance events after which a person would give up."""


PATIENT_MOVES = 5
"""Moves that a person makes the other way before doubting it."""

FELT = 4
"""Times that an adjuster does not move before that is taken for a stop."""

NEAR_ZONES = 5.0
"""Of the good zone: nearer than this fingers go slowly."""


@dataclass
class LiveRobot(Robot):
    """Turns by the guidance. A turn the other way is lost in `backlash_turns` of slack before the slug moves.

    `stubborn_way`: +1 or -1 is which way it tries first where it is not told. `misread`: takes the told way for the
    other one, as with a slug turned from below. `looks`: guidance seen, by adjuster; `turned`: how far it turned, all
    told.
    """

    backlash_turns: float = 0.02
    first_way: int = 1
    misread: bool = False
    longest_turns: float = 0.12
    every: int = 2
    looks: dict[str, int] = field(default_factory=dict)
    moves: dict[str, int] = field(default_factory=dict)
    words: list[Word] = field(default_factory=list)
    last: Guidance | None = None

    def __post_init__(self) -> None:
        """Hold nothing yet."""
        self._let_go()

    def _let_go(self) -> None:
        self._obeying = False
        self._holding: str | None = None
        self._way = self.first_way
        self._slack = self.backlash_turns
        self._since_round = 0
        self._stops = 0
        self._ends: set[int] = set()
        self._seen = 0
        self._pulled_way = 0

    def see(self, event: Event) -> None:
        """Look at what is shown."""
        if isinstance(event, Guidance):
            self.last = event

    def answer(self, asked: Asked) -> str:
        """Take hold of an adjuster, or do what any robot does."""
        if asked.action != "adjust":
            return super().answer(asked)
        self.done.append(asked)
        self._let_go()
        self._holding = asked.subject
        self.last = None
        return "ready"

    def signal(self) -> str | None:
        """Turn a little by what is shown, and say when it is done or cannot be."""
        if self._holding is None or self.last is None:
            return None
        shown, self.last = self.last, None
        self.looks[shown.adjuster] = self.looks.get(shown.adjuster, 0) + 1
        self.words.append(shown.word)
        self._seen += 1
        assert self._seen < PATIENCE, f"gave up: {shown}"
        if shown.word is Word.DONE:
            self._let_go()
            return "done"
        if shown.word in {Word.HOLD, Word.WAIT} or self._seen % self.every:
            return None
        self._choose_way(shown)
        self._turn_by(self._amount(shown))
        return self._feel_stops(told=shown.way is not None)

    def _feel_stops(self, *, told: bool) -> str | None:
        """At a stop, try the other way; stopped both ways, or the one way that is told, it cannot be turned."""
        if self._stops < FELT:
            return None
        self._stops = 0
        self._ends.add(self._way)
        if told or len(self._ends) > 1:
            self._let_go()
            return "cannot"
        self._way, self._since_round = -self._way, 0
        return None

    def _choose_way(self, shown: Guidance) -> None:
        """Go the way that is told; else turn round once when told to turn back, again only if that made it worse."""
        self._since_round += 1
        told = {TurnWay.CLOCKWISE: 1, TurnWay.ANTICLOCKWISE: -1, None: 0}[shown.way]
        back = shown.word in {Word.PAST_IT, Word.TURN_BACK}
        wanted = self._way
        if told:
            wanted = -told if self.misread else told
        elif back and (not self._obeying or (shown.trend is Trend.FARTHER and self._since_round > PATIENT_MOVES)):
            wanted = -self._way
        self._obeying = back
        if wanted != self._way:
            self._way, self._since_round = wanted, 0

    def _amount(self, shown: Guidance) -> float:
        """Turn little near the target or the best, more where both are far or not known."""
        if shown.turns_left is not None:
            return min(max(0.7 * shown.turns_left, self.coarse_turns), 2 * self.longest_turns)
        near = shown.within is not None and shown.error is not None and abs(shown.error) < NEAR_ZONES * shown.within
        return max(self.longest_turns / 4, self.coarse_turns) if near else self.longest_turns

    def _turn_by(self, turns: float) -> None:
        """Turn by what fingers can; the first of it may go into slack."""
        fingers = self.coarse_turns or 1 / 1000
        wanted = fingers * max(1, round(turns / fingers))
        if self._way != self._pulled_way:
            self._slack, self._pulled_way = self.backlash_turns, self._way
        lost = min(self._slack, wanted)
        self._slack -= lost
        wanted -= lost
        if wanted <= 0.0 or self._holding is None:
            return
        moved = self.bench.do(do="turn", adjuster=self._holding, turns=self._way * wanted)["moved_turns"]
        self.moves[self._holding] = self.moves.get(self._holding, 0) + 1
        self._stops = 0 if abs(moved) > 0.25 * wanted else self._stops + 1
