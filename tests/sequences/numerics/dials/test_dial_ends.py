"""Both ends of a dial brought onto their marks, on oscillators written down here on their own.

The effects of trimmer, padder and coil at 600 and 1400 kHz were computed from the circuit (L1 = 200 uH, IF 455 kHz,
exact at 600, 1000 and 1400 kHz); the letters of the tracking formula stand in Reference Data for Radio Engineers and
in Terman, Radio Engineers' Handbook (1943), sec. 9 (from memory).
"""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequences.numerics.dials.dial_ends import (
    BothHold,
    Decision,
    End,
    EndAdjuster,
    EndReading,
    EndsGoal,
    EndsNotHeld,
    GoTo,
    TurnAtEnd,
    effect_elsewhere,
    next_move,
    own_moves_hz,
    padded_effects_elsewhere,
)

Errors = Callable[[float, float], dict[End, float]]
"""The dial error in Hz at both ends, with the low and the high end's adjuster so many turns from the start."""

# kHz at 600 and 1400 kHz for one pF more of trimmer, and for one per cent more of padder.
TRIMMER_KHZ_PER_PF = (-0.80, -10.35)
PADDER_KHZ_PER_PERCENT = (-2.34, -1.33)

BROADCAST = EndsGoal(
    low=EndAdjuster("padder", 0.125, -1, 0.57), high=EndAdjuster("trimmer", 0.125, -1, 0.08), aim_hz=2000.0
)
TUNABLE = EndsGoal(
    low=EndAdjuster("trimmer", 0.125, 1, effect_elsewhere("trimmer", 3270e3, 2770e3)),
    high=EndAdjuster("slug", 0.125, 1, effect_elsewhere("slug", 2770e3, 3270e3)),
    aim_hz=200.0,
)


def broadcast(low_khz: float, high_khz: float) -> Errors:
    """A superhet's oscillator: two per cent of padder and 1.5 pF of trimmer a turn, clockwise more."""

    def errors(padder_turns: float, trimmer_turns: float) -> dict[End, float]:
        change = [
            2.0 * padder_turns * padder + 1.5 * trimmer_turns * trimmer
            for padder, trimmer in zip(PADDER_KHZ_PER_PERCENT, TRIMMER_KHZ_PER_PF, strict=True)
        ]
        return {End.LOW: 1e3 * (low_khz + change[0]), End.HIGH: 1e3 * (high_khz + change[1])}

    return errors


def tunable(trimmer_off_pf: float, slug_off: float) -> Errors:
    """Coil and capacitor, 3270 kHz at the dial's low end and 2770 kHz at its high end; the dial runs against it."""
    coil_h = 15e-6
    wanted_hz = {End.LOW: 3270e3, End.HIGH: 2770e3}

    def errors(trimmer_turns: float, slug_turns: float) -> dict[End, float]:
        out = {}
        for end, hz in wanted_hz.items():
            farads = 1 / ((2 * math.pi * hz) ** 2 * coil_h) + (trimmer_off_pf + 0.4 * trimmer_turns) * 1e-12
            henries = coil_h * (1 + slug_off + 0.03 * math.tanh(slug_turns / 6))
            out[end] = hz - 1 / (2 * math.pi * math.sqrt(henries * farads))
        return out

    return errors


def bring_home(goal: EndsGoal, errors: Errors, sigma_hz: float, seed: int = 1) -> tuple[Decision, list[EndReading]]:
    """Do what is decided until it ends: fingers turn with an error of a hundredth of a turn."""
    random = np.random.default_rng(seed)
    readings: list[EndReading] = []
    asked, turned = {End.LOW: 0.0, End.HIGH: 0.0}, {End.LOW: 0.0, End.HIGH: 0.0}
    stands = End.LOW
    while not isinstance(move := next_move(goal, readings), BothHold | EndsNotHeld):
        assert len(readings) < 40
        if isinstance(move, TurnAtEnd):
            assert move.end is stands
            asked[move.end] += move.turns
            turned[move.end] += move.turns + random.normal(0, 0.01)
        stands = move.end
        error_hz = errors(turned[End.LOW], turned[End.HIGH])[stands] + random.normal(0, sigma_hz)
        readings.append(EndReading(stands, asked[End.LOW], asked[End.HIGH], error_hz, sigma_hz))
    return move, readings


def final_errors(readings: list[EndReading]) -> dict[End, float]:
    """Give the last reading at each end."""
    return {each.end: each.error_hz for each in readings}


@settings(max_examples=60, deadline=None)
@given(low_khz=st.floats(-40, 40), high_khz=st.floats(-60, 60), seed=st.integers(0, 99))
def test_padder_and_trimmer_bring_both_ends_home(low_khz: float, high_khz: float, seed: int) -> None:
    move, readings = bring_home(BROADCAST, broadcast(low_khz, high_khz), 80.0, seed)

    assert isinstance(move, BothHold)
    assert all(abs(error_hz) < 2500 for error_hz in final_errors(readings).values())
    assert len(readings) <= 20


@settings(max_examples=60, deadline=None)
@given(trimmer_off_pf=st.floats(-0.9, 0.9), slug_off=st.floats(-6e-3, 6e-3), seed=st.integers(0, 99))
def test_trimmer_and_slug_do_though_each_moves_the_other_s_end(
    trimmer_off_pf: float, slug_off: float, seed: int
) -> None:
    """Turned in turns alone, each to zero its own end, they would take a dozen rounds: 0.72 is left by each."""
    move, readings = bring_home(TUNABLE, tunable(trimmer_off_pf, slug_off), 2.0, seed)

    assert isinstance(move, BothHold)
    assert all(abs(error_hz) < 300 for error_hz in final_errors(readings).values())
    assert len(readings) <= 24


@pytest.mark.parametrize("sense", [0, -1])
def test_an_adjuster_whose_sense_is_unknown_or_wrong_still_comes_home(sense: int) -> None:
    goal = replace(TUNABLE, low=replace(TUNABLE.low, sense=sense), high=replace(TUNABLE.high, sense=sense))

    move, readings = bring_home(goal, tunable(0.5, -2e-3), 2.0)

    assert isinstance(move, BothHold)
    assert all(abs(error_hz) < 300 for error_hz in final_errors(readings).values())


def test_ends_that_hold_are_read_and_not_turned() -> None:
    move, readings = bring_home(TUNABLE, lambda *_: {End.LOW: 50.0, End.HIGH: -60.0}, 2.0)

    assert isinstance(move, BothHold)
    assert [each.end for each in readings] == [End.LOW, End.HIGH]


def test_an_adjuster_that_moves_nothing_is_named_after_a_turn_of_it() -> None:
    move, readings = bring_home(TUNABLE, lambda *_: {End.LOW: 50.0, End.HIGH: 4000.0}, 2.0)

    assert isinstance(move, EndsNotHeld)
    assert move.end is End.HIGH
    assert "slug" in move.doubt.text
    assert 1.0 <= abs(readings[-1].high_turns) <= 2.0


def test_ends_that_wander_come_to_an_end_with_a_doubt() -> None:
    random = np.random.default_rng(4)
    move, readings = bring_home(TUNABLE, lambda *_: dict.fromkeys(End, float(random.normal(0, 4000))), 2.0)

    assert isinstance(move, EndsNotHeld)
    assert len(readings) <= 33


def test_the_first_move_is_to_the_low_end() -> None:
    assert next_move(TUNABLE, []) == GoTo(End.LOW)


def test_a_trimmer_s_effect_at_the_other_end_follows_the_table() -> None:
    found = padded_effects_elsewhere({End.LOW: "padder", End.HIGH: "trimmer"}, 600e3, 1400e3, 455e3)

    assert found[End.HIGH] == pytest.approx(0.80 / 10.35, rel=0.06)
    assert found[End.LOW] == pytest.approx(1.33 / 2.34, rel=0.06)


def test_without_a_padder_it_follows_from_coil_and_capacitor() -> None:
    """Exact small changes of one circuit, df/f = -dC/2C = -dL/2L, at 3270 and 2770 kHz."""
    start = tunable(0.0, 0.0)(0.0, 0.0)
    trimmer, slug = tunable(1e-3, 0.0)(0.0, 0.0), tunable(0.0, 1e-6)(0.0, 0.0)
    by_trimmer = {end: trimmer[end] - start[end] for end in End}
    by_slug = {end: slug[end] - start[end] for end in End}

    assert effect_elsewhere("trimmer", 3270e3, 2770e3) == pytest.approx(
        by_trimmer[End.HIGH] / by_trimmer[End.LOW], 1e-3
    )
    assert effect_elsewhere("slug", 2770e3, 3270e3) == pytest.approx(by_slug[End.LOW] / by_slug[End.HIGH], 1e-3)


@given(low_hz=st.floats(-2e4, 2e4), high_hz=st.floats(-2e4, 2e4))
def test_own_moves_with_what_each_does_elsewhere_take_both_errors_away(low_hz: float, high_hz: float) -> None:
    moves = own_moves_hz(low_hz, high_hz, BROADCAST)

    assert low_hz + moves[End.LOW] + 0.08 * moves[End.HIGH] == pytest.approx(0.0, abs=1e-6)
    assert high_hz + moves[End.HIGH] + 0.57 * moves[End.LOW] == pytest.approx(0.0, abs=1e-6)
