"""Zero beat by ear: the source goes up a little, and the person says whether the note rose, fell, or is not there."""

from collections.abc import Generator
from dataclasses import dataclass, field
from typing import Any

from sequences.engine.requests import Ask, Request
from sequences.engine.steps import ask, set_frequency, settle
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.ear_search import EarGoal, Heard, ListenAt, Note, NotHeard, ZeroHeard, next_question

AGAIN = "again"
ANSWERS = (*(note.value for note in Note), AGAIN)

REACH_HZ = 2000.0
SPREAD_HZ = 200.0
SPREAD_AGAIN_HZ = 60.0
"""How far from where it should be zero beat may well be; and from where it was the last time."""

STEP_UP_HZ = 20.0
LISTEN_S = 1.5
FINE_HZ = 10.0
"""How nearly an edge of the silent zone is looked for."""

EDGE_SIGMA_HZ = 3.0
"""How well an edge is set by ear, one sigma (common practice, no source)."""

MOST_REPEATS = 5


@dataclass(slots=True)
class Ear:
    """One person's ear at one bench: how wide the silent zone is to it, and where zero beat was the last time."""

    half_zone_hz: Estimate | None = None
    last_zero_hz: dict[float, float] = field(default_factory=dict)
    just_heard: list[Heard] = field(default_factory=list)

    def listen(self, at_hz: float) -> Generator[Request, Any, Note]:
        """Let the source come up to a frequency from a little below, and ask what the note did.

        Raises:
            SequenceError: the person could not tell.
        """
        for _ in range(MOST_REPEATS):
            yield from set_frequency(at_hz - STEP_UP_HZ)
            yield from settle(LISTEN_S)
            yield from set_frequency(at_hz)
            text = "Listen: the source has just gone up a little. Did the note rise, did it fall, or is there none?"
            detail = {"from_hz": at_hz - STEP_UP_HZ, "to_hz": at_hz}
            answer: str = yield from ask(Ask("choose", "beat note", text, ANSWERS, detail))
            if answer != AGAIN:
                return Note(answer)
        raise SequenceError(f"The note could not be told in {MOST_REPEATS} tries: see that it is loud and steady.")

    def side(self, at_hz: float) -> Generator[Request, Any, Note]:
        """Listen once; if zero beat is then asked for and nothing was turned meanwhile, the answer counts there too."""
        note = yield from self.listen(at_hz)
        self.just_heard = [Heard(at_hz, note)]
        return note

    def zero_beat(self, near_hz: float) -> Generator[Request, Any, Estimate]:
        """Give the source's frequency at zero beat, looked for within `REACH_HZ` of where it should be.

        Raises:
            SequenceError: it was not found.
        """
        heard, self.just_heard = self.just_heard, []
        goal = self._goal(near_hz)
        while isinstance(decision := next_question(goal, heard), ListenAt):
            note = yield from self.listen(decision.source_hz)
            heard.append(Heard(decision.source_hz, note))
        return self._found(near_hz, decision)

    def _goal(self, near_hz: float) -> EarGoal:
        last_hz = self.last_zero_hz.get(near_hz)
        return EarGoal(
            expected_hz=near_hz if last_hz is None else last_hz,
            spread_hz=SPREAD_HZ if last_hz is None else SPREAD_AGAIN_HZ,
            reach_hz=REACH_HZ,
            fine_hz=FINE_HZ,
            edge_sigma_hz=EDGE_SIGMA_HZ,
            half_zone_hz=self.half_zone_hz,
        )

    def _found(self, near_hz: float, decision: ZeroHeard | NotHeard) -> Estimate:
        if isinstance(decision, NotHeard):
            self.half_zone_hz = None
            raise SequenceError(decision.reason)
        self.half_zone_hz = decision.half_zone_hz
        self.last_zero_hz[near_hz] = decision.zero_hz.value
        return decision.zero_hz
