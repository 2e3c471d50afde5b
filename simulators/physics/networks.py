"""Coupled tuned circuits, solved numerically from their admittance matrix at each frequency.

Every node carries one coil and one capacitor to earth and one loss; nodes are joined by mutual inductance between
their coils or by capacitors. Nothing here is a resonance formula: Y(w) = G + j(wC - inv(L)/w) is built and solved.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class Tank:
    """One coil with its capacitor and all that damps it, from one node to earth."""

    inductance_h: float
    capacitance_f: float
    loss_s: float

    @classmethod
    def tuned(cls, resonance_hz: float, inductance_h: float, quality: float) -> "Tank":
        """Make a tank from what its maker wanted: where it resonates and how sharply."""
        angular = 2 * math.pi * resonance_hz
        capacitance_f = 1 / (angular**2 * inductance_h)
        return cls(inductance_h, capacitance_f, angular * capacitance_f / quality)

    @property
    def resonance_hz(self) -> float:
        """Where the coil's and the capacitor's admittance cancel."""
        return 1 / (2 * math.pi * math.sqrt(self.inductance_h * self.capacitance_f))

    def changed(self, *, inductance: float = 1.0, capacitance: float = 1.0, loss: float = 1.0) -> "Tank":
        """The same tank with each part scaled by a factor."""
        return Tank(self.inductance_h * inductance, self.capacitance_f * capacitance, self.loss_s * loss)

    def with_added(self, capacitance_f: float) -> "Tank":
        """The same tank with some picofarads more or less across it."""
        return Tank(self.inductance_h, self.capacitance_f + capacitance_f, self.loss_s)


@dataclass(frozen=True, slots=True)
class Coupling:
    """What joins two nodes: a coefficient of mutual inductance, a capacitor, or both."""

    first: int
    second: int
    mutual: float = 0.0
    capacitance_f: float = 0.0


class Network:
    """Tanks and their couplings, ready to be solved."""

    def __init__(self, tanks: Sequence[Tank], couplings: Sequence[Coupling] = ()) -> None:
        inductance = np.diag([tank.inductance_h for tank in tanks])
        capacitance = np.diag([tank.capacitance_f for tank in tanks])
        for joint in couplings:
            a, b = joint.first, joint.second
            mutual_h = joint.mutual * math.sqrt(inductance[a, a] * inductance[b, b])
            inductance[a, b] = inductance[b, a] = mutual_h
            capacitance[a, a] += joint.capacitance_f
            capacitance[b, b] += joint.capacitance_f
            capacitance[a, b] = capacitance[b, a] = -joint.capacitance_f
        self._loss = np.diag([tank.loss_s for tank in tanks]).astype(np.complex128)
        self._capacitance = capacitance
        self._inverse_inductance = np.linalg.inv(inductance)

    def transfer_ohm(self, frequency_hz: float, drive: int, sense: int) -> complex:
        """Give the volts at node `sense` for one ampere into node `drive`."""
        angular = 2 * math.pi * frequency_hz
        admittance = self._loss + 1j * (angular * self._capacitance - self._inverse_inductance / angular)
        current = np.zeros(len(admittance), np.complex128)
        current[drive] = 1.0
        return complex(np.linalg.solve(admittance, current)[sense])

    def sweep_ohm(self, frequency_hz: Floats, drive: int, sense: int) -> Complexes:
        """Give the same for many frequencies.

        Args:
            frequency_hz: Shape (n,).
            drive: node the current enters.
            sense: node whose voltage is wanted.

        Returns:
            Shape (n,), in ohms.
        """
        angular = (2 * np.pi * np.asarray(frequency_hz, np.float64))[:, None, None]
        admittance = self._loss + 1j * (angular * self._capacitance - self._inverse_inductance / angular)
        current = np.zeros((len(angular), len(self._loss), 1), np.complex128)
        current[:, drive, 0] = 1.0
        return np.linalg.solve(admittance, current)[:, sense, 0].astype(np.complex128)

    def modes_hz(self) -> Floats:
        """Give the frequencies at which the network would ring if nothing were lost, rising."""
        squares = np.linalg.eigvals(np.linalg.solve(self._capacitance, self._inverse_inductance))
        modes: Floats = np.sort(np.sqrt(squares.real)) / (2 * np.pi)
        return modes
