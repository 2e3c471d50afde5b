"""How a truth is found: look at responses, try every position of an adjuster, and put everything back."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass

import numpy as np

from simulators.physics.response import Floats, TrueResponse, find_response
from simulators.radios.chain import Circuit, Stage, follow, together
from simulators.radios.radio import Radio

_HALVINGS = 40
_CHAIN_POINTS = 601
_PAIR_ROUNDS = 100
_FAINT_VOLTS = 1e-3
"""What a whole way is looked through with: too little for a mixer's curvature to matter."""

_STILL_TURNS = 1e-7


@dataclass(frozen=True, slots=True)
class AdjusterTruth:
    """Where an adjuster is and where it should be, in turns from the middle of its travel.

    `reachable` is False where the best is beyond the end of the travel; `best_turns` then is that end.
    """

    position_turns: float
    best_turns: float
    off_turns: float
    reachable: bool
    seized: bool

    def as_json(self) -> dict[str, object]:
        """Give it by name."""
        return asdict(self)


def look_through(stages: Sequence[Circuit], centre_hz: float, reach_hz: float) -> dict[str, float | None]:
    """Give the true response of tuned circuits one behind the other."""

    def response(frequency_hz: Floats) -> Floats:
        product: Floats = np.prod([stage.gains(frequency_hz) for stage in stages], axis=0)
        return product

    return _within(response, centre_hz, reach_hz).as_json()


def look_through_all(stages: Sequence[Stage], centre_hz: float, reach_hz: float) -> dict[str, float | None]:
    """Give the true response of a whole way with its mixers: every tone that arrives counts."""

    def response(frequency_hz: Floats) -> Floats:
        heard = [together(follow([(float(one), _FAINT_VOLTS)], stages)) for one in frequency_hz]
        return np.array(heard) / _FAINT_VOLTS

    return _within(response, centre_hz, reach_hz, _CHAIN_POINTS).as_json()


def _within(
    response: Callable[[Floats], Floats], centre_hz: float, reach_hz: float, points: int | None = None
) -> TrueResponse:
    low_hz, high_hz = max(centre_hz - reach_hz, centre_hz / 100), centre_hz + reach_hz
    return find_response(response, low_hz, high_hz, *((points,) if points else ()))


@contextmanager
def standing(radio: Radio, **values: float | str) -> Iterator[None]:
    """Let controls stand elsewhere for a while; underscores stand for spaces."""
    names = {name.replace("_", " "): value for name, value in values.items()}
    before = {name: radio.controls[name].value for name in names}
    try:
        for name, value in names.items():
            radio.controls[name].value = value
        yield
    finally:
        for name, kept in before.items():
            radio.controls[name].value = kept


def best_turns(radio: Radio, adjuster: str, error: Callable[[], float]) -> tuple[float, bool]:
    """Try positions until the error, which must rise or fall steadily with the turns, is zero.

    Returns:
        The best position, and whether it is within the travel.
    """
    part = radio.adjusters[adjuster]
    kept = part.position_turns
    try:
        return _root(part.travel_turns / 2, lambda turns: _error_at(radio, adjuster, turns, error))
    finally:
        part.position_turns = kept


def _error_at(radio: Radio, adjuster: str, turns: float, error: Callable[[], float]) -> float:
    radio.adjusters[adjuster].position_turns = turns
    return error()


def _root(half: float, error: Callable[[float], float]) -> tuple[float, bool]:
    low, high = -half, half
    at_low, at_high = error(low), error(high)
    if at_low * at_high > 0.0:
        return (low, False) if abs(at_low) < abs(at_high) else (high, False)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if (error(middle) > 0.0) == (at_low > 0.0):
            low = middle
        else:
            high = middle
    return (low + high) / 2, True


def best_pair(
    radio: Radio, names: tuple[str, str], errors: tuple[Callable[[], float], Callable[[], float]]
) -> tuple[tuple[float, bool], tuple[float, bool]]:
    """Find where two adjusters must stand for two errors to vanish together, going from one to the other."""
    kept = [radio.adjusters[name].position_turns for name in names]
    found = [(0.0, True), (0.0, True)]
    try:
        for turn in range(_PAIR_ROUNDS):
            at = turn % 2
            before = found[at][0]
            found[at] = best_turns(radio, names[at], errors[at])
            radio.adjusters[names[at]].position_turns = found[at][0]
            if turn > 1 and abs(found[at][0] - before) < _STILL_TURNS:
                break
    finally:
        for name, position in zip(names, kept, strict=True):
            radio.adjusters[name].position_turns = position
    return found[0], found[1]


def adjuster_truth(radio: Radio, adjuster: str, best: tuple[float, bool]) -> dict[str, object]:
    """Put an adjuster beside its best."""
    part = radio.adjusters[adjuster]
    off_turns = part.position_turns - best[0]
    return AdjusterTruth(part.position_turns, best[0], off_turns, best[1], part.seized).as_json()


def best_pointer(radio: Radio, adjuster: str, errors: Callable[[], Sequence[float]]) -> tuple[float, bool]:
    """Where the pointer must stand for the worst error over the scale to be least: halfway between the extremes."""
    return best_turns(radio, adjuster, lambda: max(errors()) + min(errors()))
