"""Zero beat by ear: the source goes up a little, and the person says whether the note rose, fell, or is not there."""

from collections.abc import Generator
from dataclasses import dataclass
from typing import Any

from sequences.engine.questions import Choose
from sequences.engine.requests import Request, asking
from sequences.engine.steps import ask, set_frequency, settle
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.ear_search import EarGoal, Heard, ListenAt, Note, NotHeard, next_question

AGAIN = "again"
ANSWERS = (*(note.value for note in Note), AGAIN)

REACH_HZ = 2000.0
"""How far from where it belongs zero beat is looked for."""

STEP_UP_HZ = 20.0
LISTEN_S = 1.5
FINE_HZ = 4.0
"""How well zero beat is wanted, one sigma, where nobody says otherwise."""

EDGE_SIGMA_HZ = 3.0
"""How well an edge of the silent zone is told by ear, one sigma (common practice, no source)."""

MOST_REPEATS = 5


@dataclass(frozen=True, slots=True)
class Sought:
    """Where zero beat belongs and about where it should be, in Hz of the source, and how well it is wanted, one sigma.

    Farther from where it belongs a `share` of the distance is near enough.
    """

    target_hz: float
    expected_hz: Estimate
    share: float = 0.0
    fine_hz: float = FINE_HZ


@dataclass(slots=True)
class Ear:
    """One person's ear at one bench: how wide the silent zone is to it, where that was learnt."""

    half_zone_hz: Estimate | None = None

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
            answer: str = yield from ask(asking(Choose("beat note", detail), text, ANSWERS))
            if answer != AGAIN:
                return Note(answer)
        raise SequenceError(f"The note could not be told in {MOST_REPEATS} tries: see that it is loud and steady.")

    def zero_beat(self, sought: Sought) -> Generator[Request, Any, Estimate]:
        """Give the source's frequency at zero beat, looked for within `REACH_HZ` of where it belongs.

        Raises:
            SequenceError: it was not found.
        """
        goal = EarGoal(
            expected_hz=sought.expected_hz,
            target_hz=sought.target_hz,
            reach_hz=REACH_HZ,
            fine_hz=sought.fine_hz,
            edge_sigma_hz=EDGE_SIGMA_HZ,
            step_up_hz=STEP_UP_HZ,
            share=sought.share,
            half_zone_hz=self.half_zone_hz,
        )
        heard: list[Heard] = []
        while isinstance(decision := next_question(goal, heard), ListenAt):
            note = yield from self.listen(decision.source_hz)
            heard.append(Heard(decision.source_hz, note))
        if isinstance(decision, NotHeard):
            self.half_zone_hz = None
            raise SequenceError(decision.reason)
        self.half_zone_hz = decision.half_zone_hz
        return decision.zero_hz
