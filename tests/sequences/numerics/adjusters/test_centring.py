"""How far both slugs of a can are turned for the whole to come to its frequency."""

import math

import pytest

from sequences.numerics.adjusters.centring import CommonTurn, half_width_of


def test_a_can_that_is_high_is_brought_down_by_both_slugs_each_by_its_own_measure() -> None:
    common = CommonTurn(half_width_hz=3500.0, half_width_turns=(1.5, 2.0), senses=(-1, -1))

    assert common.turns_for(-3500.0, 1 / 16) == (1.5, 2.0)
    assert common.turns_for(1750.0, 1 / 16) == (-0.75, -1.0)
    assert common.turns_for(50.0, 1 / 16) == (0.0, 0.0)


def test_slugs_that_work_against_each_other_are_turned_against_each_other() -> None:
    common = CommonTurn(3500.0, (1.0, 1.0), (-1, 1))

    assert common.turns_for(-3500.0, 1 / 8) == (1.0, -1.0)


def test_what_a_turn_did_is_learnt_within_reason() -> None:
    common = CommonTurn(3500.0, (1.0, 1.0), (-1, -1))

    assert common.having_seen(-1000.0, -800.0).trust == pytest.approx(0.8)
    assert common.having_seen(-1000.0, -800.0).turns_for(-3500.0, 1 / 64)[0] == pytest.approx(1.25)
    assert common.having_seen(-1000.0, -9000.0).trust == 2.5
    assert common.having_seen(-1000.0, 700.0).senses == (1, 1)
    assert common.having_seen(-100.0, 300.0) is common


def test_a_half_width_comes_from_the_q_or_from_a_critical_pairs_width() -> None:
    """A critical pair is sqrt 2 f/Q wide (Zverev, Handbook of Filter Synthesis, 1967, n = 2 Butterworth; memory)."""
    assert half_width_of(455e3, 65.0, 1.0) == pytest.approx(3500.0)
    assert half_width_of(455e3, None, math.sqrt(2) * 7000.0) == pytest.approx(3500.0)
