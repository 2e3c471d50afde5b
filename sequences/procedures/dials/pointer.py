"""Have a dial's pointer slid on its cord."""

from collections.abc import Generator
from typing import Any

from sequences.alignment.outcome import Task, Turned
from sequences.engine.asks import CANNOT, DONE
from sequences.engine.questions import TurnBy
from sequences.engine.requests import Request, asking
from sequences.engine.steps import ask
from sequences.plan.content import Spot, StepAdjuster
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.dials.dial_marks import set_dial


def pointer_of(task: Task) -> StepAdjuster | None:
    """Give the pointer of a dial's step, where it may be slid."""
    found = (each for each in task.step.adjusters if each.kind == "dial pointer" and not each.measure_only)
    return next(found, None)


def slide_pointer(
    task: Task, pointer: StepAdjuster, hand: Hand, shift_khz: float
) -> Generator[Request, Any, str | None]:
    """Have the pointer slid at the middle of the scale, the dial's shaft held; where it cannot be, give a sentence."""
    spot = _middle(task.step.spots)
    yield from set_dial(task, spot)
    reads = (spot.dial_khz or 0.0) + shift_khz
    text = f"Hold the dial's shaft and slide the {pointer.name} from {spot.dial_khz:g} to {reads:.2f} kHz."
    request = asking(TurnBy(pointer.name, shift_khz, "kHz"), text, (DONE, CANNOT))
    if (yield from ask(request)) == DONE:
        hand.add(Turned(pointer.name, shift_khz))
        return None
    hand.could_not(pointer.name)
    return f"The {pointer.name} cannot be slid so far: free its clamp first."


def _middle(spots: tuple[Spot, ...]) -> Spot:
    by_mark = sorted((spot for spot in spots if spot.band == spots[0].band), key=lambda spot: spot.dial_khz or 0.0)
    return by_mark[len(by_mark) // 2]
