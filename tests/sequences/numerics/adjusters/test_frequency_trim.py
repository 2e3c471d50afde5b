"""Turning an oscillator to its frequency, against coils whose frequency follows from f = 1/(2 pi sqrt(LC))."""

import math
from collections.abc import Callable

import pytest

from sequences.numerics.adjusters.frequency_trim import Tried, TrimGoal, Trimmed, TurnBy, expected_error, next_turn
from sequences.numerics.figures import Estimate

SIGMA_HZ = 0.5


def turn_until_done(
    error_hz: Callable[[float], float], goal: TrimGoal, fingers: float = 0.0
) -> tuple[float, int, Trimmed]:
    """Do as told, in steps as coarse as the fingers; give the error left, the number of turns and the ending."""
    asked = stands = 0.0
    tried = [Tried(0.0, Estimate(error_hz(0.0), SIGMA_HZ))]
    while isinstance(decision := next_turn(goal, tried), TurnBy):
        asked += decision.turns
        stands += fingers * round(decision.turns / fingers) if fingers else decision.turns
        tried.append(Tried(asked, Estimate(error_hz(stands), SIGMA_HZ)))
    return error_hz(stands), len(tried) - 1, decision


def coil_oscillator(nominal_hz: float, per_turn: float, off_turns: float) -> Callable[[float], float]:
    """A slug that adds a share of the inductance each turn, and stands so many turns off."""
    return lambda turns: nominal_hz * (1.0 / math.sqrt(1.0 + per_turn * (turns + off_turns)) - 1.0)


@pytest.mark.parametrize("nominal_hz", [60e3, 410e3])
@pytest.mark.parametrize("off_turns", [-2.0, -0.3, 0.4, 1.7])
@pytest.mark.parametrize("clockwise", ["lowers", "unknown"])
def test_an_oscillator_comes_to_its_frequency_in_few_turns(nominal_hz: float, off_turns: float, clockwise: str) -> None:
    """0.5 % more inductance a turn is 0.25 % less frequency: 150 Hz at 60 kHz."""
    error_hz = coil_oscillator(nominal_hz, 0.005, off_turns)

    left_hz, turns, ending = turn_until_done(error_hz, TrimGoal(20.0, 0.125, clockwise))

    assert abs(left_hz) < 20.0
    assert turns <= 5
    assert not ending.no_effect


def test_coarse_fingers_end_within_the_limit_if_they_can() -> None:
    """Steps of 1/32 turn of 150 Hz a turn are 5 Hz."""
    left_hz, turns, _ = turn_until_done(coil_oscillator(60e3, 0.005, 1.1), TrimGoal(20.0, 0.125, "lowers"), 1 / 32)

    assert abs(left_hz) < 20.0
    assert turns <= 6


def test_the_first_turn_goes_the_way_the_receiver_file_says() -> None:
    """High, and clockwise lowers: clockwise."""
    high = [Tried(0.0, Estimate(100.0, SIGMA_HZ))]

    assert next_turn(TrimGoal(20.0, 0.125, "lowers"), high) == TurnBy(0.125)
    assert next_turn(TrimGoal(20.0, 0.125, "raises"), high) == TurnBy(-0.125)


def test_an_error_well_within_the_limit_is_left() -> None:
    """A third of it is little enough."""
    assert next_turn(TrimGoal(30.0, 0.125, "lowers"), [Tried(0.0, Estimate(9.0, 0.5))]) == Trimmed()


def test_an_adjuster_without_effect_is_given_up_after_three_turns() -> None:
    """A broken core turns and moves nothing."""
    _, turns, ending = turn_until_done(lambda _: 100.0, TrimGoal(20.0, 0.125, "lowers"))

    assert ending.no_effect
    assert turns == 3


def test_it_ends_though_the_fingers_never_get_there() -> None:
    """Steps of half a turn at 600 Hz a turn cannot reach 20 Hz."""
    _, turns, _ = turn_until_done(coil_oscillator(240e3, 0.005, 0.8), TrimGoal(20.0, 0.125, "lowers"), 0.5)

    assert turns <= 12


def test_once_two_turns_are_known_the_next_error_is_foretold() -> None:
    """A coil's frequency goes with 1/sqrt(L), so that a straight line foretells it to some per cent of the way."""
    error_at = coil_oscillator(60e3, 0.005, 1.0)
    tried = [Tried(at, Estimate(error_at(at), 1.0)) for at in (0.0, 0.25)]
    foretold = expected_error(tried, 0.5)

    assert abs(foretold.value - error_at(0.75)) < foretold.sigma
    assert foretold.sigma < 0.3 * abs(error_at(0.0))


def test_before_the_first_turn_tells_anything_the_next_error_is_a_wide_guess() -> None:
    guess = expected_error([Tried(0.0, Estimate(-300.0, 5.0))], 0.25)

    assert -300.0 < guess.value < 0.0
    assert guess.sigma >= 100.0


def test_before_the_first_turn_the_error_must_be_known() -> None:
    """One sentence says so."""
    with pytest.raises(ValueError, match="error must be known"):
        next_turn(TrimGoal(20.0, 0.125, "lowers"), [])
