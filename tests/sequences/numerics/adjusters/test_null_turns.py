"""Turning to silence by the side alone, against an oscillator on paper."""

import numpy as np
import pytest

from sequences.numerics.adjusters.null_turns import (
    NoNull,
    Nulled,
    NullGoal,
    Sided,
    TurnOn,
    next_null_turn,
    turns_a_hertz,
)

SILENT_HZ = 35.0


def turn_to_silence(goal: NullGoal, error_hz: float, hz_per_turn: float) -> tuple[Nulled | NoNull, list[Sided]]:
    """Turn as told until it is over."""
    at, sided = 0.0, [Sided(0.0, side_of(error_hz))]
    while isinstance(decision := next_null_turn(goal, sided), TurnOn):
        at += decision.turns
        sided.append(Sided(at, side_of(error_hz + at * hz_per_turn)))
    return decision, sided


def side_of(error_hz: float) -> int:
    """What an ear tells of an error."""
    return 0 if abs(error_hz) < SILENT_HZ else int(np.sign(error_hz))


@pytest.mark.parametrize("clockwise", [1, 0])
@pytest.mark.parametrize("error_hz", [-1300.0, -420.0, -60.0, 10.0, 90.0, 700.0])
def test_silence_is_reached_in_few_turns(error_hz: float, clockwise: int) -> None:
    """Even where nobody knows which way to turn."""
    end, sided = turn_to_silence(NullGoal(0.125, clockwise), error_hz, 400.0)

    assert isinstance(end, Nulled)
    assert abs(error_hz + sided[-1].at_turns * 400.0) < SILENT_HZ
    assert len(sided) <= (9 if clockwise else 15)


def test_the_way_is_the_one_the_file_gives() -> None:
    """Clockwise lowers, and it is too low: anticlockwise."""
    first = next_null_turn(NullGoal(0.125, -1), [Sided(0.0, -1)])

    assert isinstance(first, TurnOn)
    assert first.turns < 0.0


@pytest.mark.parametrize("clockwise", [1, 0])
def test_an_adjuster_without_effect_is_found_out(clockwise: int) -> None:
    end, sided = turn_to_silence(NullGoal(0.125, clockwise), 400.0, 0.0)

    assert isinstance(end, NoNull)
    assert max(abs(each.at_turns) for each in sided) <= 4.0


def test_what_a_turn_is_worth_is_guessed_roughly() -> None:
    _, sided = turn_to_silence(NullGoal(0.125, 1), -420.0, 400.0)
    guessed = turns_a_hertz(sided, SILENT_HZ)

    assert guessed is not None
    assert 0.25 < guessed * 400.0 < 4.0
    assert turns_a_hertz([Sided(0.0, 0)], SILENT_HZ) is None


def test_before_the_first_answer_there_is_nothing_to_decide() -> None:
    with pytest.raises(ValueError, match="side must be known"):
        next_null_turn(NullGoal(0.125, 1), [])
