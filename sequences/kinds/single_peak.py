"""A single peak seen through a narrower window, a tunable IF for one: step and fit at the alignment frequency.

A sweep of the source would show the window, so the source stands still and the adjuster is turned by equal nudges
through the peak; the fit says how many to go back.
"""

from collections.abc import Generator, Sequence
from typing import Any

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.asks import connect
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_output
from sequences.errors import SequenceError
from sequences.numerics.wording import say_hz
from sequences.plan.content import Step
from sequences.procedures.adjusting.circuit_findings import (
    LEFT,
    QUANTITIES,
    level_finding,
    limit_of,
    peaked_advice,
    peaked_findings,
)
from sequences.procedures.adjusting.circuit_layout import circuit_steps
from sequences.procedures.adjusting.one_adjuster import live_level, peak_adjuster
from sequences.procedures.adjusting.step_notes import StepNotes
from sequences.procedures.dials.find_receiver import Whereabouts, find_first
from sequences.procedures.kind import Kind
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.procedures.sweeps.place import HZ_PER_KHZ, connect_and_hold, nominal_hz, place_of
from sequences.receiver.model import Receiver
from sequences.receiver.windows import window_of

NAME = "single peak"
MEANING = "A tuned circuit passes the signal best when it is tuned to it; off tune, the receiver is deafer."
NOT_WITHOUT_TURNING = (
    "What there is to gain shows only when the adjuster is turned through its peak, because the circuit is seen "
    "through a narrower window; run the step to adjust it."
)
TOLD_BY_TURNING = (
    "What is left to gain was told while the adjuster was turned; now nothing is turned, and the level alone says that "
    "it has not changed since."
)
REACH_WINDOWS = 5
"""How many widths of the window on either side the receiver is looked for, should its dial be off."""

SAME_WINDOW_DB = 6.0
OFF_TO_MIND = 0.125
"""Of the circuit's width: a source off by more makes the circuit's peak wrong by more than is worth having."""


def single_peak(task: Task) -> Procedure[StepOutcome]:
    """Measure, and where asked adjust, one circuit of its own adjuster.

    Where the receiver is tuned a little beside the nominal frequency, the source follows it there, and a doubt says so.
    """
    notes = StepNotes(task)
    try:
        held, frequency_hz = yield from _ready(task)
        notes.doubts += [*held.level.doubts, *_tuned_beside(task, frequency_hz)]
        when = Phase.AS_FOUND if task.phase is Phase.ADJUST else task.phase
        level = yield from held.read(frequency_hz, when)
        notes.findings.append(level_finding(level, held, when))
        if task.phase is Phase.ADJUST:
            yield from _adjust(notes, held, frequency_hz)
        else:
            notes.not_measured(LEFT, NOT_WITHOUT_TURNING if task.phase is Phase.AS_FOUND else TOLD_BY_TURNING)
    except SequenceError as error:
        notes.not_measured(LEFT, str(error))
    yield from set_output(False)
    return notes.outcome()


def _ready(task: Task) -> Generator[Request, Any, tuple[HeldOutput, float]]:
    """Connect; the source goes to the nominal frequency, or to where the receiver's window is."""
    nominal, place = nominal_hz(task), place_of(task.receiver, task.way.hookup)
    window_khz = window_of(task.receiver, task.step.subject).through_khz
    if window_khz is None:
        return (yield from connect_and_hold(place, [nominal])), nominal
    yield from connect(place.hookup, place.cautions)
    window_hz = window_khz * HZ_PER_KHZ
    finder, top_hz = yield from find_first(place, Whereabouts(nominal, REACH_WINDOWS * window_hz, window_hz))
    held = HeldOutput(finder.level, place.highest_dbm, place.settle_s)
    return held, nominal if (yield from _passes(held, nominal, top_hz)) else top_hz


def _passes(held: HeldOutput, nominal: float, top_hz: float) -> Generator[Request, Any, bool]:
    """Tell whether the window seen at `top_hz` passes the nominal frequency as well."""
    top = yield from held.read(top_hz, "window")
    try:
        at_nominal = yield from held.read(nominal, "window")
    except SequenceError:  # the nominal frequency lies beyond the window altogether
        held.power_dbm = -top.value
        return False
    if at_nominal.value <= top.value - SAME_WINDOW_DB:
        held.power_dbm = -top.value
        return False
    return True


def _tuned_beside(task: Task, frequency_hz: float) -> Sequence[str]:
    off_hz = frequency_hz - nominal_hz(task)
    width_hz = window_of(task.receiver, task.step.subject).width_khz * HZ_PER_KHZ
    if abs(off_hz) <= OFF_TO_MIND * width_hz:
        return ()
    heard = f"The receiver hears {say_hz(frequency_hz)} and not {say_hz(nominal_hz(task))}"
    return (f"{heard}: its dial or an oscillator is off, so align those first and this circuit again.",)


def _adjust(notes: StepNotes, held: HeldOutput, frequency_hz: float) -> Generator[Request, Any, None]:
    limit_db = limit_of(notes.task.step, LEFT)
    for adjuster in notes.task.step.adjusters:
        if adjuster.measure_only:
            notes.advice.append(f"{adjuster.name} was set in the factory and was not turned.")
            continue
        live = live_level(notes.task, held, frequency_hz, limit_db)
        peaked = yield from peak_adjuster(adjuster, lambda purpose: held.read(frequency_hz, purpose), notes.hand, live)
        as_left = yield from held.read(frequency_hz, Phase.AS_LEFT)
        notes.findings.append(level_finding(as_left, held, Phase.AS_LEFT))
        notes.findings += peaked_findings(adjuster.name, peaked, limit_db)
        notes.advice.append(peaked_advice(adjuster.name, peaked))


def _steps(receiver: Receiver) -> list[Step]:
    return circuit_steps(receiver, "single circuit", NAME, receiver.limits.peak_gain_db, MEANING)


KIND = Kind(NAME, _steps, single_peak, QUANTITIES)
