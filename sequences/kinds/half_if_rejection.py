"""Half-IF rejection: how much stronger a signal half an IF beside the wanted one must be to be heard like it.

The mixer makes the second harmonics of signal and oscillator, and their difference is the IF. The response goes as the
square of the signal, so that its rejection is told for a wanted signal of 10 uV, and the square is proved by a second,
weaker output: what follows the source otherwise is another response. Measured by equal output, as IEC 60315-3 has it
for the image (from memory).
"""

import math
from collections.abc import Generator
from typing import Any

from sequences.alignment.outcome import Finding, StepOutcome, Task
from sequences.engine.asks import connect
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_output
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.numerics.levels.square_response import EqualOutputs, bound_for, is_square, order_of, rejection_for
from sequences.numerics.wording import say_db
from sequences.plan.content import Culprit, Limit, Spot, Step
from sequences.procedures.antenna import antenna_step, find_near, tune, where_of
from sequences.procedures.dials.find_receiver import Finder
from sequences.procedures.kind import Kind
from sequences.procedures.rejection import (
    MISPLACED_DB,
    Unwanted,
    alike_levels,
    first_mixer,
    heard_better_dbm,
    judged_bound,
    judged_rejection,
    output_at,
    weakest_heard,
)
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.procedures.sweeps.place import Place, place_of
from sequences.procedures.sweeps.source_level import SourceLevel
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.model import Receiver

NAME = "half-IF rejection"
REJECTION = Quantity(
    "half-if-rejection",
    "half-IF rejection",
    "dB",
    Sense.AT_LEAST,
    "how much stronger a station half an IF away must be to be heard like a wanted one of 10 uV",
    Phrase("at {size} against its half-IF"),
)
BOUND = Quantity(
    "half-if-rejection-bound",
    "half-IF rejection, at least",
    "dB",
    Sense.AT_LEAST,
    "what the half-IF is down by at least, where it was hardly heard at the source's highest level",
    Phrase("at {size} or more against its half-IF"),
)
WORDS = (
    "the source's level on the signal and half an IF beside it, for the same output, at two outputs",
    "at the same output the detector's law and gain control are the same, and two outputs prove the square",
)
MEANING = "A strong station half an IF away is heard through the mixer's curvature, by second harmonics."
HALF_IF = Unwanted(REJECTION, BOUND, "half-IF", lambda first: first.half_if_khz or 0.0)

WANTED_DBM = -86.99
"""10 uV in 50 ohm."""

SECOND_HARMONIC = 2
LOUDER_DB, SPARE_DB, WEAKER_DB = 12.0, 2.0, 3.0
"""How much stronger the unwanted signal is made than where it just stands clear, with so much to spare for holding the
output; and how much weaker it is at the second output."""


def half_if_rejection(task: Task) -> Procedure[StepOutcome]:
    """Measure every spot of the task; nothing is turned."""
    place = place_of(task.receiver, task.way.hookup)
    yield from connect(task.way.hookup, task.way.cautions)
    findings = []
    for spot in task.step.spots:
        yield from tune(task, spot)
        try:
            findings.append((yield from _at_spot(task, place, spot)))
        except SequenceError as error:
            findings.append(Finding(REJECTION, where_of(task, spot), None, reason=str(error)))
        yield from set_output(False)
    return StepOutcome(task.step.id, task.phase, tuple(findings))


def _at_spot(task: Task, place: Place, spot: Spot) -> Generator[Request, Any, Finding]:
    first = first_mixer(task, spot)
    if first.half_if_khz is None:
        raise SequenceError("There is no half-IF here: half an IF off the signal lies below zero.")
    near, signal_hz = yield from find_near(task, place, spot.source_khz or first.takes_khz)
    try:
        far, unwanted_hz = yield from find_near(task, place, first.half_if_khz, SECOND_HARMONIC)
    except SequenceError:
        heard_dbm = yield from weakest_heard(place, near, signal_hz)
        return judged_bound(task, spot, HALF_IF, bound_for(place.highest_dbm, heard_dbm, WANTED_DBM))
    try:
        strong, order = yield from _two_outputs(place, far, signal_hz, unwanted_hz)
    except SequenceError:
        heard_dbm = yield from heard_better_dbm((near, signal_hz), (far, unwanted_hz))
        return judged_bound(task, spot, HALF_IF, bound_for(place.highest_dbm, heard_dbm, WANTED_DBM))
    figure = rejection_for(strong, WANTED_DBM)
    if not is_square(order):
        straight_db = strong.unwanted.value - strong.wanted.value
        raise SequenceError(
            f"What is heard half an IF away follows the source by {order.value:.1f} dB for each dB, and not by 2 as a "
            f"half-IF does: it is another response, {say_db(straight_db)} down."
        )
    return judged_rejection(task, spot, REJECTION, Estimate(figure.value, math.hypot(figure.sigma, MISPLACED_DB)))


def _two_outputs(
    place: Place, far: Finder, signal_hz: float, unwanted_hz: float
) -> Generator[Request, Any, tuple[EqualOutputs, Estimate]]:
    """Hold two outputs on both frequencies; give the stronger one's levels, and the order of the response."""
    strong_dbm = min(far.level.power_dbm + LOUDER_DB, place.highest_dbm - SPARE_DB)
    outputs = []
    for power_dbm in (strong_dbm, strong_dbm - WEAKER_DB):
        level = yield from output_at(place, far.level, power_dbm, unwanted_hz)
        outputs.append((yield from _alike(place, level, signal_hz, unwanted_hz)))
    return outputs[0], order_of(*outputs)


def _alike(
    place: Place, level: SourceLevel, signal_hz: float, unwanted_hz: float
) -> Generator[Request, Any, EqualOutputs]:
    held = HeldOutput(level, place.highest_dbm, place.settle_s)
    start_dbm = {signal_hz: min(place.level_dbm, level.power_dbm), unwanted_hz: level.power_dbm}
    levels = yield from alike_levels(held, start_dbm, REJECTION.name)
    wanted, unwanted = (Estimate(-levels[at].value, levels[at].sigma) for at in (signal_hz, unwanted_hz))
    return EqualOutputs(wanted, unwanted)


def _steps(receiver: Receiver) -> list[Step]:
    least_db = receiver.limits.half_if_rejection_db
    if least_db is None:
        return []
    return antenna_step(receiver, NAME, Limit(REJECTION, least_db), WORDS, MEANING, points_at=Culprit.INPUT)


KIND = Kind(NAME, _steps, half_if_rejection, (REJECTION, BOUND))
