"""A can by its edges, live: the slugs in turns take half each of what it is off, with an eye on the edges' balance."""

import math
from collections.abc import Generator
from dataclasses import replace
from typing import Any

import numpy as np

from sequences.engine.requests import Request
from sequences.kinds.if_can.can_balance import NEAR_ENOUGH
from sequences.numerics.adjusters.centring import half_width_of
from sequences.numerics.adjusters.coach_error import ErrorGoal
from sequences.numerics.adjusters.edge_balance import KnownCircuit
from sequences.numerics.responses.passband import PassbandFit
from sequences.numerics.wording import say_hz
from sequences.plan.content import StepAdjuster
from sequences.procedures.adjusting.live_adjusting import (
    CLOCKWISE,
    WORSE_ZONES,
    Brought,
    LiveEnd,
    bring_to_target,
    put_back,
)
from sequences.procedures.adjusting.live_gauges import FollowedLevels, WatchedEdges
from sequences.procedures.adjusting.step_notes import StepNotes
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.procedures.sweeps.place import nominal_hz

FARTHEST_APART = 0.3

FIRST_LOOKS = 6
"""Looks at the edges before either slug is taken hold of."""


def balance_live(
    fit: PassbandFit,
    downstream: PassbandFit | None,
    half_width_turns: tuple[float, float] | None,
    held: HeldOutput,
    notes: StepNotes,
) -> Generator[Request, Any, None]:
    """Have both slugs turned live, in turns, until the can stands on its frequency.

    Both go alike, so that a can that was matched stays so. The source is on and is left so.

    Args:
        fit: The can alone, as it stands.
        downstream: What stands behind it and is taken off each reading; None where nothing does.
        half_width_turns: Turns of each slug to one half-width of its circuit; None where nobody knows.
        held: The constant output that levels are read at.
        notes: Where turns and what is to be said of them go.

    Raises:
        SequenceError: the meter does not follow the source at the edges.
    """
    if fit.centre is None or fit.width_3db is None:
        notes.advice.append("The edges of the can are not clear enough to be balanced: it stands on its common peak.")
        return
    target_hz = nominal_hz(notes.task)
    circuit = KnownCircuit(fit, fit.centre.value, fit.width_3db.value, target_hz)
    edges = WatchedEdges(FollowedLevels(held), circuit, downstream, held.settle_s)
    yield from edges.levels.begin(edges.edges_hz)
    seen_hz = yield from _off(edges)
    off_hz = fit.centre.value - target_hz if seen_hz is None else seen_hz
    within_hz = NEAR_ENOUGH * circuit.width_hz
    if abs(off_hz) <= within_hz:
        notes.advice.append("The can stands on its frequency by its edges: neither slug was moved for it.")
        return
    loaded_q = None if fit.loaded_q is None else fit.loaded_q.value
    # One slug of two moves the whole by half of what it moves its own circuit.
    moves_hz = 0.5 * half_width_of(target_hz, loaded_q, fit.width_3db.value)
    slugs = [adjuster for adjuster in notes.task.step.adjusters if not adjuster.measure_only]
    why = f"The can is {say_hz(abs(off_hz))} {'high' if off_hz > 0.0 else 'low'}; each slug takes half of it."
    before_hz = off_hz
    for number, share in _visits(abs(off_hz) / circuit.width_hz):
        slug, turns = slugs[number], None if half_width_turns is None else half_width_turns[number]
        goal = _goal(slug, off_hz * share, within_hz, moves_hz / abs(turns) if turns else None)
        brought = yield from bring_to_target(goal, edges, notes.hand, why)
        if brought.end is not LiveEnd.DONE:
            yield from _leave_no_worse(notes, goal, edges, brought, before_hz)
            return
        before_hz = goal.target


def _leave_no_worse(
    notes: StepNotes, goal: ErrorGoal, edges: WatchedEdges, brought: Brought, before_hz: float
) -> Generator[Request, Any, None]:
    """Say that a can could not be centred; where the slug that stopped left it farther off, ask for that one back."""
    said = f"{goal.adjuster} could not be turned further, so the can was left off centre."
    worse_hz = 0.0 if brought.last is None else abs(brought.last.pauses.latest) - abs(before_hz)
    if brought.moved and worse_hz > WORSE_ZONES * goal.within:
        back = yield from put_back(replace(goal, target=before_hz), edges, notes.hand, say_hz(worse_hz))
        was = "as it stood before" if back.end is LiveEnd.DONE else f"{say_hz(worse_hz)} farther off than before"
        said = f"{goal.adjuster} could not be turned further, so the can was left {was}."
    notes.advice.append(said)


def _visits(widths: float) -> tuple[tuple[int, float], ...]:
    """Say which slug is turned after which, and what share of the error is left after each.

    The first and the last move the can by one step, those between by two, so that both move it alike in all and their
    circuits never stand further apart than `FARTHEST_APART` widths: a can whose circuits stand apart is broad and
    blunt, and its edges tell little.
    """
    rounds = max(1, math.ceil(widths / FARTHEST_APART))
    steps = [1, *[2] * (rounds - 1), 1]
    return tuple((number % 2, 1.0 - sum(steps[: number + 1]) / (2 * rounds)) for number in range(len(steps)))


def _goal(slug: StepAdjuster, left_hz: float, within_hz: float, per_turn: float | None) -> ErrorGoal:
    return ErrorGoal(
        adjuster=slug.name,
        target=left_hz,
        within=within_hz,
        say=say_hz,
        clockwise=CLOCKWISE[slug.clockwise],
        per_turn=per_turn,
        nudge_turns=slug.nudge_turns,
    )


def _off(edges: WatchedEdges) -> Generator[Request, Any, float | None]:
    """Give how far the can is off, from a few hops; None where its edges tell only which way."""
    off = []
    for _ in range(FIRST_LOOKS):
        reading = yield from edges.read()
        if reading.value is not None:
            off.append(reading.value)
    return float(np.median(off)) if off else None
