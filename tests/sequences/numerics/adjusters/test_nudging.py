"""One adjuster is stepped through its peak and back to it, in few turns, whatever its feel."""

import math
from dataclasses import dataclass

import numpy as np
import pytest

from sequences.numerics.adjusters.nudging import (
    Decision,
    NoPeak,
    NudgeGoal,
    OnPeak,
    TurnedTo,
    TurnTo,
    next_nudge,
    suited_nudge,
)
from sequences.numerics.figures import DoubtName


@dataclass(frozen=True)
class Circuit:
    """A parallel LC of 2.5 MHz and Q 64 in a generator's path, tuned by a trimmer; solved from its admittance."""

    farads_per_turn: float
    off_turns: float
    frequency_hz: float = 2.5e6
    inductance_h: float = 25e-6
    q: float = 64.0

    def level_db(self, at_turns: float) -> float:
        """Voltage across it for a fixed current, in dB over that at resonance."""
        omega = 2 * math.pi * self.frequency_hz
        right_f = 1 / (omega**2 * self.inductance_h)
        farads = right_f + (at_turns - self.off_turns) * self.farads_per_turn
        loss_s = omega * right_f / self.q
        admittance = loss_s + 1j * (omega * farads - 1 / (omega * self.inductance_h))
        return 20 * math.log10(loss_s / abs(admittance))

    @property
    def half_width_turns(self) -> float:
        """Turns that bring it 3.01 dB down: dC/C = 1/Q (NEETS Module 9, NAVEDTRA 14181, p. 1-47: Q = f/B)."""
        omega = 2 * math.pi * self.frequency_hz
        return 1 / (omega**2 * self.inductance_h) / self.q / self.farads_per_turn


def carry_out(
    circuit: Circuit, goal: NudgeGoal, rng: np.random.Generator, coarse_turns: float = 0.0
) -> tuple[Decision, list[TurnedTo], float]:
    """Turn as told until there is a result; give it, the readings, and where the adjuster really stands."""
    at = 0.0
    readings = [TurnedTo(0.0, circuit.level_db(0.0) + float(rng.normal(0.0, goal.sigma_db)))]
    while isinstance(decision := next_nudge(goal, readings), TurnTo):
        assert decision.by_turns == pytest.approx(decision.at_turns - readings[-1].at_turns)
        assert decision.text.endswith((".", ")."))
        by = decision.by_turns
        at += coarse_turns * round(by / coarse_turns) if coarse_turns else by
        readings.append(TurnedTo(decision.at_turns, circuit.level_db(at) + float(rng.normal(0.0, goal.sigma_db))))
        assert len(readings) <= goal.budget
    return decision, readings, at


@pytest.mark.parametrize("half_width_turns", [0.1, 0.3, 1.0, 2.0])
@pytest.mark.parametrize("off_half_widths", [-3.0, -1.0, -0.1, 0.0, 0.4, 2.0, 4.0])
def test_the_adjuster_is_left_on_its_peak(half_width_turns: float, off_half_widths: float) -> None:
    off_turns = off_half_widths * half_width_turns
    circuit = Circuit(2.533e-12 / half_width_turns, off_turns)
    assert circuit.half_width_turns == pytest.approx(half_width_turns, rel=1e-3)

    decision, readings, at = carry_out(circuit, NudgeGoal(0.05, 0.125, most_turns=12.0), np.random.default_rng(40))

    assert isinstance(decision, OnPeak)
    assert circuit.level_db(at) > -0.1
    assert abs(decision.peak_turns.value - off_turns) < 4 * decision.peak_turns.sigma + 0.02 * circuit.half_width_turns
    gained_db = circuit.level_db(at) - circuit.level_db(0.0)
    assert abs(decision.gain_db.value - gained_db) < 4 * decision.gain_db.sigma + 0.05
    assert abs(decision.left_db.value + circuit.level_db(at)) < 4 * decision.left_db.sigma + 0.01
    assert len(readings) <= 26


def test_few_turns_suffice_where_an_eighth_of_a_turn_hardly_shows() -> None:
    """A half-width of ten nudges: nudges grow to half a turn."""
    circuit = Circuit(2e-12, 3.0)

    decision, readings, _ = carry_out(circuit, NudgeGoal(0.05, 0.125), np.random.default_rng(41))

    assert circuit.half_width_turns == pytest.approx(1.27, abs=0.02)
    assert isinstance(decision, OnPeak)
    assert len(readings) <= 14


def test_coarse_fingers_still_end_near_the_peak() -> None:
    circuit = Circuit(2e-12, -2.2)

    decision, _, at = carry_out(circuit, NudgeGoal(0.1, 0.125), np.random.default_rng(42), coarse_turns=1 / 16)

    assert isinstance(decision, OnPeak)
    assert circuit.level_db(at) > -0.2


def test_the_person_is_told_how_many_nudges_to_go_back() -> None:
    circuit = Circuit(2e-12, 1.0)
    readings = [TurnedTo(at, circuit.level_db(at)) for at in np.arange(0.0, 3.1, 0.5).tolist()]

    decision = next_nudge(NudgeGoal(0.05, 0.5), readings)

    assert isinstance(decision, TurnTo)
    assert "Go back 4 nudges" in decision.text
    assert decision.at_turns == pytest.approx(1.0, abs=0.13)


def test_an_adjuster_that_does_nothing_is_refused() -> None:
    readings = [TurnedTo(0.0, -20.0)]
    rng = np.random.default_rng(43)
    while isinstance(decision := next_nudge(NudgeGoal(0.1, 0.125), readings), TurnTo):
        readings.append(TurnedTo(decision.at_turns, -20.0 + float(rng.normal(0.0, 0.1))))

    assert isinstance(decision, NoPeak)
    assert decision.doubt.name is DoubtName.NO_RISE
    assert len(readings) < 20


def test_a_peak_out_of_reach_and_levels_that_make_no_peak_are_refused() -> None:
    far, _, _ = carry_out(Circuit(0.2e-12, 40.0), NudgeGoal(0.02, 0.125), np.random.default_rng(44))
    jumping = [TurnedTo(at, level) for at, level in ((0, -9.0), (1, -3.0), (2, -8.0), (3, -2.0), (4, -9.0), (5, -14.0))]

    assert isinstance(far, NoPeak)
    assert far.doubt.name is DoubtName.NOT_BRACKETED
    assert "suspect a part" in far.doubt.text
    refused = next_nudge(NudgeGoal(0.05, 1.0), jumping)
    assert isinstance(refused, NoPeak)
    assert refused.doubt.name is DoubtName.POOR_FIT


def test_a_nudge_that_shows_is_kept_and_one_that_does_not_grows_to_four_times() -> None:
    steep = [TurnedTo(0.125 * step, -3.0 * step) for step in range(6)]
    flat = [TurnedTo(0.125 * step, -0.1 * step) for step in range(12)]

    assert suited_nudge(steep, 0.125) == 0.125
    assert suited_nudge(flat[:3], 0.125) == 0.25
    assert suited_nudge(flat, 0.125) == 0.5


def test_no_reading_and_a_reading_that_is_no_number_are_refused() -> None:
    with pytest.raises(ValueError, match="first reading"):
        next_nudge(NudgeGoal(0.1, 0.125), [])
    with pytest.raises(ValueError, match="not a number"):
        next_nudge(NudgeGoal(0.1, 0.125), [TurnedTo(0.0, math.nan)])
