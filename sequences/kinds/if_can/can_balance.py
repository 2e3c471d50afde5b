"""Edge balance of a can: hop between its edges, turn both slugs by what the difference says, and hop again."""

import math
from collections.abc import Generator
from typing import Any

import numpy as np

from sequences.engine.requests import Request
from sequences.numerics.adjusters.centring import CommonTurn, half_width_of
from sequences.numerics.adjusters.edge_balance import EdgeBalance, HopPoints, KnownCircuit, hop_points, read_edges
from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import PassbandFit
from sequences.numerics.responses.stages import HeldResponse
from sequences.plan.content import StepAdjuster
from sequences.procedures.adjusting.step_notes import StepNotes
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.procedures.sweeps.place import nominal_hz

NEAR_ENOUGH = 0.02
"""Of the 3 dB width: a can nearer to its frequency than this is left."""

FINEST_TURNS = 1.0 / 16.0
MOST_ROUNDS = 5
UNTOLD_STEP = 0.25
"""Of the 3 dB width: how far a can is moved whose edges tell only which way it is off."""


def balance_edges(
    fit: PassbandFit,
    downstream: PassbandFit | None,
    half_width_turns: tuple[float, float],
    held: HeldOutput,
    notes: StepNotes,
) -> Generator[Request, Any, None]:
    """Turn both slugs together until the can stands on its frequency. The source is on and is left so.

    Args:
        fit: the can alone, as it stands.
        downstream: what stands behind it and is taken off each reading; None where nothing does.
        half_width_turns: turns of each slug to one half-width of its circuit.
        held: the constant output that levels are read at.
        notes: where turns and what is to be said of them go.
    """
    if fit.centre is None or fit.width_3db is None:
        notes.advice.append("The edges of the can are not clear enough to be balanced: it stands on its common peak.")
        return
    target_hz = nominal_hz(notes.task)
    circuit = KnownCircuit(fit, fit.centre.value, fit.width_3db.value, target_hz)
    loaded_q = None if fit.loaded_q is None else fit.loaded_q.value
    half_width_hz = half_width_of(target_hz, loaded_q, fit.width_3db.value)
    slugs = [adjuster for adjuster in notes.task.step.adjusters if not adjuster.measure_only]
    senses = (_sense(slugs[0]), _sense(slugs[1]))
    rounds = _Rounds(circuit, downstream, held, CommonTurn(half_width_hz, half_width_turns, senses))
    yield from rounds.carry_out((slugs[0], slugs[1]), notes)


def _sense(slug: StepAdjuster) -> int:
    """Most slugs add inductance as they go in, and go in clockwise; the first round shows where that is wrong."""
    return 1 if slug.clockwise == "raises" else -1


class _Rounds:
    """Hop, turn, hop again."""

    def __init__(
        self, circuit: KnownCircuit, downstream: PassbandFit | None, held: HeldOutput, common: CommonTurn
    ) -> None:
        self.circuit, self.downstream, self.held, self.common = circuit, downstream, held, common
        self.points = hop_points(circuit)

    def carry_out(self, slugs: tuple[StepAdjuster, StepAdjuster], notes: StepNotes) -> Generator[Request, Any, None]:
        off = yield from self._read()
        for _ in range(MOST_ROUNDS):
            wanted_hz = -self._off_hz(off)
            turns = self.common.turns_for(wanted_hz, FINEST_TURNS)
            if self._is_near(off) or turns == (0.0, 0.0):
                break
            for slug, by in zip(slugs, turns, strict=True):
                if by and not (yield from notes.hand.turn(slug.name, by, f"{off.text} Both slugs go together.")):
                    notes.advice.append(f"{slug.name} could not be turned further, so the can was left off centre.")
                    return
            before, off = off, (yield from self._read())
            if before.detuning_hz is not None and off.detuning_hz is not None:
                seen_hz = off.detuning_hz.value - before.detuning_hz.value
                self.common = self.common.having_seen(wanted_hz, seen_hz)
        notes.advice.append(off.text)

    def _off_hz(self, off: EdgeBalance) -> float:
        """How far the can is high; where the edges tell only which way, a step that way."""
        return UNTOLD_STEP * self.circuit.width_hz * off.sense if off.detuning_hz is None else off.detuning_hz.value

    def _is_near(self, off: EdgeBalance) -> bool:
        return off.detuning_hz is not None and abs(off.detuning_hz.value) <= NEAR_ENOUGH * self.circuit.width_hz

    def _read(self) -> Generator[Request, Any, EdgeBalance]:
        """Read lower, upper, upper, lower: a slow drift cancels."""
        lower, upper = self.points.lower_hz, self.points.upper_hz
        levels = []
        for frequency_hz in (lower, upper, upper, lower):
            levels.append((yield from self.held.read(frequency_hz, "edge")))  # noqa: PERF401 - a generator's reply
        edges = (_mean(levels[0], levels[3]), _mean(levels[1], levels[2]))
        return read_edges(self.circuit, self.points, *_alone(edges, self.points, self.downstream))


def _mean(one: Estimate, other: Estimate) -> Estimate:
    return Estimate((one.value + other.value) / 2, math.hypot(one.sigma, other.sigma) / 2)


def _alone(
    edges: tuple[Estimate, Estimate], points: HopPoints, downstream: PassbandFit | None
) -> tuple[Estimate, Estimate]:
    """Take off both levels what stands behind the can, with its uncertainty."""
    if downstream is None:
        return edges
    at_hz = np.array([points.lower_hz, points.upper_hz])
    behind_db, behind_sigma_db = HeldResponse(downstream).level_db(at_hz), downstream.level_sigma_db(at_hz)
    lower, upper = (
        Estimate(edge.value - float(behind), math.hypot(edge.sigma, float(sigma)))
        for edge, behind, sigma in zip(edges, behind_db, behind_sigma_db, strict=True)
    )
    return lower, upper
