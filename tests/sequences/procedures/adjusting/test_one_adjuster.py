"""One adjuster by counted turns where nothing answers to it: asked about, put back, and not swung any farther."""

from collections.abc import Generator
from dataclasses import dataclass, field
from typing import Any

from sequences.engine.questions import Choose, TurnBy
from sequences.engine.requests import Ask, Request
from sequences.numerics.adjusters.nudging import NoPeak, OnPeak
from sequences.numerics.figures import Estimate
from sequences.plan.content import StepAdjuster
from sequences.procedures.adjusting.one_adjuster import Peaked, peak_adjuster
from sequences.procedures.adjusting.turning import Hand

SLUG = "T9 slug"
BEST_TURNS = 1.3


@dataclass
class Bench:
    """A circuit with its peak 1.3 turns away, a hand that takes hold of it or of another slug, and the answers."""

    on_it: bool
    answer_to_what: str
    turns: float = 0.0
    others_turns: float = 0.0
    texts: list[str] = field(default_factory=list)

    def read(self, purpose: str) -> Generator[Request, Any, Estimate]:
        """Read the level: 3 dB down a turn off the peak."""
        assert purpose == SLUG
        yield from ()
        off = self.turns - BEST_TURNS
        return Estimate(-3.0 * off * off / (1.0 + 0.1 * off * off), 0.02)

    def carry_out(self, hand: Hand) -> Peaked:
        """Let the procedure have its way."""
        adjuster = StepAdjuster(SLUG, "slug", False, (), None, 0.25, "lowers")
        procedure = peak_adjuster(adjuster, self.read, hand)
        reply: Any = None
        while True:
            try:
                request = procedure.send(reply)
            except StopIteration as end:
                became: Peaked = end.value
                return became
            reply = self._answer(request) if isinstance(request, Ask) else None

    def _answer(self, asked: Ask) -> str:
        self.texts.append(asked.text)
        match asked.question:
            case TurnBy(turns=turns):
                self.turns += turns if self.on_it else 0.0
                self.others_turns += 0.0 if self.on_it else turns
                return "done"
            case Choose() if asked.answers == ("done",):
                self.others_turns, self.on_it = 0.0, True
                return "done"
        return self.answer_to_what


def test_a_slug_without_effect_is_found_after_about_a_turn_and_put_back() -> None:
    """It stands as it was found, and what it may be is said."""
    bench, hand = Bench(on_it=False, answer_to_what="I turned it"), Hand()

    became = bench.carry_out(hand)

    assert isinstance(became.result, NoPeak)
    assert "changes nothing over" in became.result.doubt.text
    assert abs(bench.others_turns) < 1e-9
    assert hand.turns[SLUG] == 0.0
    assert sum("Is it T9 slug that you turned?" in text for text in bench.texts) == 1
    assert len(bench.texts) <= 7


def test_another_slug_that_was_turned_by_mistake_is_turned_back_and_the_right_one_peaked() -> None:
    """What was turned on the other is not counted on this one."""
    bench, hand = Bench(on_it=False, answer_to_what="I turned another"), Hand()

    became = bench.carry_out(hand)

    assert isinstance(became.result, OnPeak)
    assert bench.others_turns == 0.0
    assert abs(bench.turns - BEST_TURNS) < 0.1
    assert abs(hand.turns[SLUG] - bench.turns) < 1e-9
    assert any("Turn that one back" in text and "anticlockwise" in text for text in bench.texts)
