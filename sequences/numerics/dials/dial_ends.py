"""Bring both ends of a dial onto their marks: one adjuster rules the low end, one the high end, and each moves both.

Turning them in turns alone converges slowly, for a trimmer that moves one end by 10 kHz may move the other by 6. So
what each adjuster does at each end is learnt from the turns themselves, with what theory says of its effect at the
other end to begin with, and each turn allows for the other one's.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.dials.tracking import TrimmerPlace, adjuster_effects, best_tracking, circuit_for
from sequences.numerics.figures import Doubt, DoubtName
from sequences.numerics.wording import say_hz

FINEST_TURN = 1 / 32
FINGERS_TURNS = 0.015
"""How well fingers set a turn, one sigma."""

THEORY_HOLDS_WITHIN = 0.15
"""How nearly an adjuster's effect at the other end is what the ideal circuit says, one sigma."""

MOST_TURNS_AT_ONE_VISIT = 3
MOST_READINGS = 32
MOST_BLIND_TURNS = 1.0
MOST_TURN = 3.0
CLEAR_SIGMAS = 4.0
STANDARD_INDUCTANCE_H = 200e-6
"""Any inductance gives the same ratio of an adjuster's effects at the two ends."""


class End(StrEnum):
    """An end of the dial."""

    LOW = "low"
    HIGH = "high"

    @property
    def other(self) -> "End":
        """Give the other end."""
        return End.HIGH if self is End.LOW else End.LOW


ENDS = (End.LOW, End.HIGH)


@dataclass(frozen=True, slots=True)
class EndAdjuster:
    """The adjuster of one end. `sense`: +1 where a turn clockwise raises the dial error, -1 lowers, 0 not known.

    `elsewhere`: its effect at the other end, as a multiple of that at its own.
    """

    name: str
    nudge_turns: float
    sense: int
    elsewhere: float


@dataclass(frozen=True, slots=True)
class EndsGoal:
    """The two adjusters, and the dial error at each end that is good enough, in Hz, unsigned."""

    low: EndAdjuster
    high: EndAdjuster
    aim_hz: float

    def adjuster(self, end: End) -> EndAdjuster:
        """Give the adjuster of an end."""
        return self.low if end is End.LOW else self.high


@dataclass(frozen=True, slots=True)
class EndReading:
    """The dial error at an end, with both adjusters so many turns from where they stood at the start, clockwise."""

    end: End
    low_turns: float
    high_turns: float
    error_hz: float
    sigma_hz: float


@dataclass(frozen=True, slots=True)
class GoTo:
    """Set the dial to this end and read there."""

    end: End


@dataclass(frozen=True, slots=True)
class TurnAtEnd:
    """Turn the adjuster of the end where the dial stands, and read."""

    end: End
    turns: float
    text: str


@dataclass(frozen=True, slots=True)
class BothHold:
    """Both ends are on their marks, each read since the last turn."""


@dataclass(frozen=True, slots=True)
class EndsNotHeld:
    """The ends cannot be brought onto their marks so; the doubt says why. `end`: whose adjuster is at fault."""

    end: End | None
    doubt: Doubt


Decision = GoTo | TurnAtEnd | BothHold | EndsNotHeld


def next_move(goal: EndsGoal, readings: Sequence[EndReading]) -> Decision:
    """Decide from the readings so far, in the order taken; the dial stands at the end of the last one."""
    if not readings:
        return GoTo(End.LOW)
    return _Ends(goal, readings).decide()


class _Ends:
    """What the readings tell: the errors now, and what each adjuster does at each end, in Hz a turn."""

    def __init__(self, goal: EndsGoal, readings: Sequence[EndReading]) -> None:
        self.goal, self.readings = goal, readings
        self.here = readings[-1].end
        self.turns_now = _turns(readings[-1])
        self.known = {end: _own_effect(readings, end) for end in ENDS}
        self.effect = self._effects()
        self.last = {end: next((each for each in reversed(readings) if each.end is end), None) for end in ENDS}

    def decide(self) -> Decision:
        there = self.here.other
        if self.last[there] is None:
            return GoTo(there)
        if all(self._holds(end) for end in ENDS):
            return BothHold() if self._is_fresh(there) else GoTo(there)
        if len(self.readings) >= MOST_READINGS:
            text = f"After {len(self.readings)} readings the two ends do not hold together; look for a loose part."
            return EndsNotHeld(None, Doubt(DoubtName.UNCERTAIN, text))
        if self.known[self.here] is None:
            return self._nudge()
        return GoTo(there) if self._turned_here() >= MOST_TURNS_AT_ONE_VISIT else self._turn()

    def _holds(self, end: End) -> bool:
        return abs(self._error_hz(end)) <= self.goal.aim_hz

    def _is_fresh(self, end: End) -> bool:
        last = self.last[end]
        return last is not None and bool(np.allclose(_turns(last), self.turns_now))

    def _error_hz(self, end: End) -> float:
        """Give the error at an end now: as last read, and moved by the turns since."""
        last = self.last[end]
        if last is None:
            return 0.0
        return last.error_hz + float(self.effect[ENDS.index(end)] @ (self.turns_now - _turns(last)))

    def _turned_here(self) -> int:
        """Count the turns made since the dial was set to this end."""
        visit = 0
        for each in reversed(self.readings):
            if each.end is not self.here:
                break
            visit += 1
        return visit - 1

    def _effects(self) -> Array:
        """Learn what each adjuster does at each end, shape (2, 2): rows are ends, columns adjusters.

        Least squares over what each end moved by between one reading of it and the next, and over what theory says of
        an adjuster's effect elsewhere. Short turns tell little, for fingers set them only so well.
        """
        own = [self.known[end] or 0.0 for end in ENDS]
        rows, moved_hz, sigma_hz = [], [], []
        for row, end in enumerate(ENDS):
            here = [each for each in self.readings if each.end is end]
            for before, after in pairwise(here):
                turned = _turns(after) - _turns(before)
                slip_hz = FINGERS_TURNS * math.hypot(*(effect for effect, by in zip(own, turned, strict=True) if by))
                rows.append(np.concatenate((turned, [0.0, 0.0]) if row == 0 else ([0.0, 0.0], turned)))
                moved_hz.append(after.error_hz - before.error_hz)
                sigma_hz.append(math.hypot(before.sigma_hz, after.sigma_hz, slip_hz))
        for column, end in enumerate(ENDS):
            elsewhere = self.goal.adjuster(end).elsewhere
            theory = np.zeros(4)
            theory[[3 * column, 2 - column]] = (-elsewhere, 1.0)
            rows.append(theory)
            moved_hz.append(0.0)
            sigma_hz.append(THEORY_HOLDS_WITHIN * abs(own[column] * elsewhere) + 1e-6)
        weight = 1.0 / np.maximum(np.array(sigma_hz), 1e-6)
        solved = np.linalg.lstsq(np.array(rows) * weight[:, None], np.array(moved_hz) * weight, rcond=None)[0]
        return np.asarray(solved).reshape(2, 2)

    def _turn(self) -> Decision:
        wanted = self._wanted_turns()
        rounded = round(wanted / FINEST_TURN) * FINEST_TURN
        small = abs(self.effect[self._at, self._at] * wanted) <= 0.5 * self.goal.aim_hz
        if rounded == 0.0 or (small and self._holds(self.here)):
            return self._go_on_or_end()
        turns = float(np.clip(rounded, -MOST_TURN, MOST_TURN))
        text = f"The {self.here} end is {say_hz(abs(self._error_hz(self.here)))} off."
        return TurnAtEnd(self.here, turns, text)

    @property
    def _at(self) -> int:
        return ENDS.index(self.here)

    def _wanted_turns(self) -> float:
        """Solve for both adjusters where both are known, so that the other end's turn is allowed for."""
        errors = np.array([self._error_hz(end) for end in ENDS])
        if self.known[self.here.other] is None:
            return float(-errors[self._at] / self.effect[self._at, self._at])
        return float(np.linalg.lstsq(self.effect, -errors, rcond=1e-3)[0][self._at])

    def _go_on_or_end(self) -> Decision:
        """With nothing left to turn here: go to the other end, unless that, too, is as near as fingers can bring it."""
        there = self.here.other
        if not self._is_fresh(there) or self.known[there] is None:
            return GoTo(there)
        at = ENDS.index(there)
        errors = np.array([self._error_hz(end) for end in ENDS])
        wanted = float(np.linalg.lstsq(self.effect, -errors, rcond=1e-3)[0][at])
        return BothHold() if abs(wanted) < 0.5 * FINEST_TURN else GoTo(there)

    def _nudge(self) -> Decision:
        adjuster = self.goal.adjuster(self.here)
        nudged = _blind_turns(self.readings, self.here)
        if abs(nudged) >= MOST_BLIND_TURNS:
            text = (
                f"{abs(nudged):.2g} turns of {adjuster.name} moved the {self.here} end by no more than the readings' "
                "noise; it may be broken, or not belong to this oscillator."
            )
            return EndsNotHeld(self.here, Doubt(DoubtName.NO_RISE, text))
        way = -math.copysign(1.0, self._error_hz(self.here)) * (adjuster.sense or 1)
        turns = nudged or way * adjuster.nudge_turns
        return TurnAtEnd(self.here, turns, "This shows how far a turn moves it.")


def _turns(reading: EndReading) -> Array:
    return np.array([reading.low_turns, reading.high_turns])


def _own_turns(reading: EndReading, end: End) -> float:
    return reading.low_turns if end is End.LOW else reading.high_turns


def _visits(readings: Sequence[EndReading], end: End) -> list[tuple[EndReading, EndReading]]:
    """List first and later readings of each visit to an end: between them only its own adjuster was turned."""
    pairs: list[tuple[EndReading, EndReading]] = []
    first: EndReading | None = None
    for each in readings:
        if each.end is not end:
            first = None
        elif first is None:
            first = each
        else:
            pairs.append((first, each))
    return pairs


def _own_effect(readings: Sequence[EndReading], end: End) -> float | None:
    """Give what an adjuster does at its own end, in Hz a turn, from the first visit that shows it clearly."""
    for first, later in _visits(readings, end):
        turned = _own_turns(later, end) - _own_turns(first, end)
        moved_hz = later.error_hz - first.error_hz
        if turned and abs(moved_hz) > CLEAR_SIGMAS * math.hypot(first.sigma_hz, later.sigma_hz):
            return moved_hz / turned
    return None


def _blind_turns(readings: Sequence[EndReading], end: End) -> float:
    """Give how far the adjuster was turned in its last visit."""
    pairs = _visits(readings, end)
    return _own_turns(pairs[-1][1], end) - _own_turns(pairs[-1][0], end) if pairs else 0.0


def effect_elsewhere(kind: str, own_hz: float, other_hz: float) -> float:
    """Give an adjuster's effect at the other end of a dial as a multiple of that at its own, without a padder.

    A slug changes every frequency by the same share; a trimmer by -f dC / 2C, where C goes as 1/f^2.

    Args:
        kind: "trimmer", or anything that acts on the inductance.
        own_hz: The oscillator's frequency at the adjuster's own end.
        other_hz: The same at the other end.
    """
    ratio = other_hz / own_hz
    return ratio**3 if kind == "trimmer" else ratio


def padded_effects_elsewhere(kinds: dict[End, str], low_hz: float, high_hz: float, if_hz: float) -> dict[End, float]:
    """Give the same for an oscillator with a padder, from the three-point tracking of its band.

    Args:
        kinds: The kind of each end's adjuster: "trimmer", "padder", or "slug".
        low_hz: The signal's frequency at the low end.
        high_hz: The same at the high end.
        if_hz: The intermediate frequency, which the oscillator runs above the signal.

    Raises:
        ValueError: where the band has no such tracking.
    """
    circuit = circuit_for(best_tracking(low_hz, high_hz, if_hz), STANDARD_INDUCTANCE_H, TrimmerPlace.ACROSS_GANG)
    effects = adjuster_effects(circuit, [low_hz, high_hz])
    by_kind = {
        "trimmer": effects.trimmer_hz_per_pf,
        "padder": effects.padder_hz_per_percent,
        "slug": effects.coil_hz_per_percent,
    }
    low, high = by_kind[kinds[End.LOW]], by_kind[kinds[End.HIGH]]
    return {End.LOW: float(low[1] / low[0]), End.HIGH: float(high[0] / high[1])}


def own_moves_hz(low_error_hz: float, high_error_hz: float, goal: EndsGoal) -> dict[End, float]:
    """Give how far each adjuster by itself must move its own end, in Hz of dial error, for both errors to vanish."""
    effects = np.array([[1.0, goal.high.elsewhere], [goal.low.elsewhere, 1.0]])
    moves = np.linalg.solve(effects, -np.array([low_error_hz, high_error_hz]))
    return {End.LOW: float(moves[0]), End.HIGH: float(moves[1])}
