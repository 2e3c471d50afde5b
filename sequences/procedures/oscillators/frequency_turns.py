"""Have an oscillator's adjuster turned until its error is small, or find that it cannot be."""

from collections.abc import Generator
from dataclasses import replace
from enum import StrEnum
from typing import Any, Protocol

from sequences.alignment.outcome import Stuck
from sequences.engine.requests import Request
from sequences.numerics.adjusters.coach_error import ErrorGoal
from sequences.numerics.adjusters.frequency_trim import Tried, TrimGoal, TurnBy, expected_error, next_turn
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Signs
from sequences.numerics.wording import say_hz
from sequences.plan.content import StepAdjuster
from sequences.procedures.adjusting.live_adjusting import (
    CLOCKWISE,
    WORSE_ZONES,
    LiveEnd,
    LiveGauge,
    bring_to_target,
    put_back,
)
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.oscillators.frequency_gauge import Reading


class TrimEnd(StrEnum):
    """How turning ended."""

    DONE = "done"
    NO_EFFECT = "the frequency does not move"
    SEIZED = "seized"
    END_OF_TRAVEL = "at the end of its travel"
    NOTHING_TO_TURN = "nothing may be turned"

    def signs(self) -> Signs:
        """Give what this says of the parts, where the error is still beyond its limit."""
        return Signs(
            out_of_travel=self is TrimEnd.END_OF_TRAVEL,
            seized=self is TrimEnd.SEIZED,
            never_peaks=self is TrimEnd.NO_EFFECT,
            nothing_to_turn=self is TrimEnd.NOTHING_TO_TURN,
        )


class TellsError(Protocol):
    """Something that tells an error in Hz as often as it is asked."""

    def read(self, expected_hz: Estimate | None = None) -> Generator[Request, Any, Reading]:
        """Measure the error, which should be about where it is expected."""


def trim(
    adjuster: StepAdjuster, gauge: TellsError, reading: Reading, limit_hz: float, hand: Hand
) -> Generator[Request, Any, tuple[TrimEnd, Reading]]:
    """Turn, measure, and turn again; give the last reading too.

    An adjuster that cannot be turned is tried the other way once.
    """
    goal = TrimGoal(limit_hz, adjuster.nudge_turns, adjuster.clockwise)
    tried = [Tried(0.0, reading.error_hz)]
    while True:
        decision = next_turn(goal, tried)
        if not isinstance(decision, TurnBy):
            return TrimEnd.NO_EFFECT if decision.no_effect else TrimEnd.DONE, reading
        could = yield from hand.turn(adjuster.name, decision.turns, _why(tried[-1].error_hz))
        if not could:
            end = yield from _stuck(adjuster, decision.turns, hand)
            return end, (yield from gauge.read())
        reading = yield from gauge.read(expected_error(tried, decision.turns))
        tried.append(Tried(tried[-1].at_turns + decision.turns, reading.error_hz))


def trim_live(
    adjuster: StepAdjuster, gauge: LiveGauge, error_hz: Estimate, within_hz: float, hand: Hand
) -> Generator[Request, Any, TrimEnd]:
    """Have the adjuster turned with an eye on the error until it is within a good zone, or cannot be turned further."""
    goal = ErrorGoal(
        adjuster=adjuster.name,
        target=0.0,
        within=within_hz,
        say=say_hz,
        clockwise=CLOCKWISE[adjuster.clockwise],
        nudge_turns=adjuster.nudge_turns,
    )
    brought = yield from bring_to_target(goal, gauge, hand, _why(error_hz))
    if brought.end is LiveEnd.DONE:
        return TrimEnd.DONE
    worse_hz = 0.0 if brought.last is None else abs(brought.last.pauses.latest) - abs(error_hz.value)
    if brought.moved and worse_hz > WORSE_ZONES * within_hz:
        yield from put_back(replace(goal, target=error_hz.value), gauge, hand, say_hz(worse_hz))
    return TrimEnd.END_OF_TRAVEL if brought.moved else TrimEnd.SEIZED


def _stuck(adjuster: StepAdjuster, turns: float, hand: Hand) -> Generator[Request, Any, TrimEnd]:
    """Tell an adjuster that is fast from one at its end: the latter can be turned back."""
    if hand.turns.get(adjuster.name):
        return TrimEnd.END_OF_TRAVEL
    back = -adjuster.nudge_turns if turns > 0.0 else adjuster.nudge_turns
    could = yield from hand.turn(adjuster.name, back, "It would not turn: try whether it turns the other way.")
    if not could:
        return TrimEnd.SEIZED
    yield from hand.turn(adjuster.name, -back, "It turns, so it stands at the end of its travel: turn it back there.")
    hand.found(adjuster.name, Stuck.END_OF_TRAVEL)
    return TrimEnd.END_OF_TRAVEL


def _why(error_hz: Estimate) -> str:
    way = "high" if error_hz.value > 0.0 else "low"
    return f"The oscillator is {say_hz(abs(error_hz.value))} {way}."
