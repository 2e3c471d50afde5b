"""What a hand finds on a receiver: adjusters to turn and controls to set; and how a seed misaligns them."""

import math
from dataclasses import dataclass, field

import numpy as np

# With this salt unit 1, the first a newcomer meets, has no failed part in either model.
_MAIN_SALT = 7
_PUSHED = 0.125
_PUSHED_COUPLING = 1.9


class HandError(Exception):
    """A hand asked for something this receiver does not have or cannot do; one sentence for the person."""


@dataclass(slots=True)
class Adjuster:
    """Something turned to align. Turns count clockwise from the middle of the travel.

    `per_turn` and `unit` say what one turn moves on a pointer or a knob, where it is not the part itself.
    """

    name: str
    kind: str
    travel_turns: float
    position_turns: float = 0.0
    seized: bool = False
    factory_only: bool = False
    unit: str = "turn"

    def turn(self, turns: float) -> float:
        """Turn, as far as the travel goes, and give how far it moved. One that is seized does not move."""
        if self.seized:
            return 0.0
        before = self.position_turns
        half = self.travel_turns / 2
        self.position_turns = min(half, max(-half, before + turns))
        return self.position_turns - before

    def describe(self) -> dict[str, object]:
        """Say what it is, without telling whether it is seized."""
        return {
            "name": self.name,
            "kind": self.kind,
            "travel_turns": self.travel_turns,
            "position_turns": self.position_turns,
            "unit": self.unit,
            "factory_only": self.factory_only,
        }


@dataclass(slots=True)
class Choice:
    """A switch with named places."""

    name: str
    choices: tuple[str, ...]
    value: str

    def set(self, to: object) -> None:
        """Put the switch to a place."""
        if to not in self.choices:
            raise HandError(f"The control {self.name!r} has no place {to!r}; it has {', '.join(self.choices)}.")
        self.value = str(to)

    def describe(self) -> dict[str, object]:
        """Say what places it has."""
        return {"name": self.name, "choices": list(self.choices), "value": self.value}


@dataclass(slots=True)
class Knob:
    """A knob that turns between two marks."""

    name: str
    low: float
    high: float
    value: float
    unit: str

    def set(self, to: object) -> None:
        """Turn the knob to a mark."""
        if isinstance(to, bool) or not isinstance(to, int | float) or not self.low <= to <= self.high:
            raise HandError(
                f"The control {self.name!r} goes from {self.low:g} to {self.high:g} {self.unit}, not to {to!r}."
            )
        self.value = float(to)

    def describe(self) -> dict[str, object]:
        """Say how far it goes."""
        return {"name": self.name, "low": self.low, "high": self.high, "unit": self.unit, "value": self.value}


Control = Choice | Knob


@dataclass(frozen=True, slots=True)
class Slug:
    """What a slug does to its coil: more inductance as it goes in, less and less towards the ends of its travel."""

    swing: float = 0.12
    scale_turns: float = 6.0

    def factor(self, position_turns: float) -> float:
        """The inductance, as a factor of that with the slug in the middle."""
        return 1 + self.swing * math.tanh(position_turns / self.scale_turns)


@dataclass(frozen=True, slots=True)
class Trimmer:
    """What a trimmer adds to its circuit: so many farads each turn clockwise, less each turn the other way."""

    farads_per_turn: float

    def farads(self, position_turns: float) -> float:
        """The capacitance, over that with the trimmer in the middle."""
        return self.farads_per_turn * position_turns


@dataclass(slots=True)
class Draw:
    """The luck of one receiver: every part's error comes from here, in a fixed order, so a seed is a receiver.

    `misalignment` scales everything drawn; 0 gives a receiver just as its maker meant it.
    """

    seed: int
    misalignment: float = 1.0
    salt: int = _MAIN_SALT
    _generator: np.random.Generator = field(init=False)

    def __post_init__(self) -> None:
        self._generator = np.random.default_rng([self.seed, self.salt])

    def aside(self, salt: int) -> "Draw":
        """Another stream of the same receiver's luck: what is drawn there disturbs nothing drawn here."""
        return Draw(self.seed, self.misalignment, salt)

    def normal(self, sigma: float) -> float:
        """A normal number of that spread, never more than 2.5 times as much."""
        return self.misalignment * sigma * float(np.clip(self._generator.standard_normal(), -2.5, 2.5))

    def chance(self, probability: float) -> bool:
        """True so often. Never true for a receiver without misalignment."""
        return bool(self._generator.random() < probability * min(1.0, self.misalignment))

    def pick(self, names: tuple[str, ...]) -> str:
        """One of the names."""
        return names[int(self._generator.integers(len(names)))]


def push_coils_together(draw: Draw, couplings: dict[str, float]) -> list[str]:
    """Over-couple one can in one receiver of eight: someone has pushed its coils together on their former.

    Args:
        draw: the luck this is drawn from.
        couplings: for each can, its coupling as a share of critical; changed in place.

    Returns:
        The fault, in words, or nothing.
    """
    can = draw.pick(tuple(couplings))
    if not draw.chance(_PUSHED):
        return []
    couplings[can] = _PUSHED_COUPLING
    return [f"over-coupled can, {can}"]
