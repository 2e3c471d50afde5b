"""How circuits are laid out so that they have the widths a file gives: chains of like resonators, and how they gain."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from simulators.physics.networks import Coupling, Network, Tank
from simulators.physics.response import find_response
from simulators.radios.chain import Circuit

_COIL_H = 1e-4
_COUPLINGS = {"loose": 0.6, "critical": 1.0, "over-coupled": 1.9}
_INNER_LOSS = 0.002
_HALVINGS = 40
_LOOK_WIDTHS = 3.0
_LOOK_POINTS = 801


@dataclass(frozen=True, slots=True)
class Ladder:
    """Resonators in a row, each coupled to the next, as its maker meant them.

    `couplings` are coefficients of mutual inductance, one fewer than the tanks.
    """

    centre_hz: float
    width_hz: float
    tanks: tuple[Tank, ...]
    couplings: tuple[float, ...]

    def stage(self, inductances: Sequence[float], centre_factor: float = 1.0) -> Circuit:
        """Make the stage, each coil changed by a factor, the whole shifted by one. Its gain as meant is 1."""
        capacitance = centre_factor**-2
        moved = [
            tank.changed(inductance=factor, capacitance=capacitance)
            for tank, factor in zip(self.tanks, inductances, strict=True)
        ]
        last = len(self.tanks) - 1
        peak_ohm = abs(self.network(self.tanks).transfer_ohm(self.centre_hz, 0, last))
        return Circuit(self.network(moved), 1 / peak_ohm, 0, last)

    def network(self, tanks: Sequence[Tank]) -> Network:
        """Couple these tanks as meant."""
        return Network(tanks, [Coupling(at, at + 1, mutual=each) for at, each in enumerate(self.couplings)])


def lay_out(centre_hz: float, width_hz: float, circuits: int, coupling: str | None = None) -> Ladder:
    """Lay out a filter of that 3 dB width: a maximally flat one, or looser or tighter where its coupling says so.

    Element values of the maximally flat low-pass, and couplings and end loads from them: Zverev, Handbook of Filter
    Synthesis (Wiley, 1967), chapter 6 (from memory). The width is then searched for on the network itself.
    """
    tight = _COUPLINGS[coupling or "critical"]
    if circuits == 1:
        return _ladder(centre_hz, width_hz, width_hz, 1, tight)
    low, high = 0.2 * width_hz, 5.0 * width_hz
    for _ in range(_HALVINGS):
        middle = math.sqrt(low * high)
        if _width_of(_ladder(centre_hz, width_hz, middle, circuits, tight)) < width_hz:
            low = middle
        else:
            high = middle
        if high / low < 1 + 1e-4:
            break
    return _ladder(centre_hz, width_hz, low, circuits, tight)


def _ladder(centre_hz: float, width_hz: float, scale_hz: float, circuits: int, tight: float) -> Ladder:
    share = scale_hz / centre_hz
    if circuits == 1:
        return Ladder(centre_hz, width_hz, (Tank.tuned(centre_hz, _COIL_H, 1 / share),), ())
    elements = [2 * math.sin((2 * place + 1) * math.pi / (2 * circuits)) for place in range(circuits)]
    ends = {0: elements[0] / share, circuits - 1: elements[-1] / share}
    inner = 1 / (_INNER_LOSS * share)
    tanks = tuple(Tank.tuned(centre_hz, _COIL_H, ends.get(place, inner)) for place in range(circuits))
    couplings = tuple(tight * share / math.sqrt(one * two) for one, two in pairwise(elements))
    return Ladder(centre_hz, width_hz, tanks, couplings)


def _width_of(ladder: Ladder) -> float:
    return width_of([ladder.stage([1.0] * len(ladder.tanks))], ladder.centre_hz, ladder.width_hz)


def width_of(stages: Sequence[Circuit], centre_hz: float, width_hz: float) -> float:
    """Give the 3 dB width of stages one behind the other, which is about so much; 0 where it cannot be told."""
    reach_hz = min(_LOOK_WIDTHS * width_hz, 0.9 * centre_hz)
    found = find_response(
        lambda hz: np.prod([stage.gains(hz) for stage in stages], axis=0),
        centre_hz - reach_hz,
        centre_hz + reach_hz,
        _LOOK_POINTS,
    )
    return found.width_3db_hz or (2 * reach_hz if found.peak_volts else 0.0)


def share_out(centre_hz: float, width_hz: float, circuits: Sequence[tuple[int, str | None]]) -> list[Ladder]:
    """Lay out several filters of one IF, whose own widths nobody gave, so that together they have the IF's width."""
    if len(circuits) == 1:
        return [lay_out(centre_hz, width_hz, *circuits[0])]
    low, high = width_hz, 4.0 * width_hz
    for _ in range(_HALVINGS // 3):
        middle = math.sqrt(low * high)
        made = [lay_out(centre_hz, middle, *each) for each in circuits]
        stages = [ladder.stage([1.0] * len(ladder.tanks)) for ladder in made]
        low, high = (middle, high) if width_of(stages, centre_hz, width_hz) < width_hz else (low, middle)
    return [lay_out(centre_hz, low, *each) for each in circuits]
