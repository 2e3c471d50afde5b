"""Solved networks against ngspice, a circuit simulator that is not ours (Debian package ngspice)."""

import numpy as np
import pytest

from simulators.physics.networks import Coupling, Network, Tank
from simulators.radios.skerry import design
from tests.published.spice import solve

POINTS = 401


def netlist(tanks: list[Tank], couplings: list[Coupling]) -> str:
    """Write the same circuit for ngspice: one ampere into the first node, the last node's volts out."""
    nodes = [*(f"n{at}" for at in range(len(tanks) - 1)), "out"]
    lines = [f"I1 0 {nodes[0]} AC 1"]
    for at, tank in enumerate(tanks):
        lines += [
            f"L{at} {nodes[at]} 0 {tank.inductance_h:.12e}",
            f"C{at} {nodes[at]} 0 {tank.capacitance_f:.12e}",
            f"R{at} {nodes[at]} 0 {1 / tank.loss_s:.12e}",
        ]
    for number, joint in enumerate(couplings):
        if joint.mutual:
            lines.append(f"K{number} L{joint.first} L{joint.second} {joint.mutual:.12e}")
        if joint.capacitance_f:
            lines.append(f"CC{number} {nodes[joint.first]} {nodes[joint.second]} {joint.capacitance_f:.12e}")
    return "\n".join([*lines, ""])


CASES = {
    "an over-coupled pair": (
        [Tank.tuned(455e3, 1e-3, 80), Tank.tuned(457e3, 1.2e-3, 60)],
        [Coupling(0, 1, mutual=0.03)],
        (430e3, 480e3),
    ),
    "a pair by capacitor": (
        [Tank.tuned(3.7e6, 5e-6, 80), Tank.tuned(3.72e6, 5e-6, 70)],
        [Coupling(0, 1, capacitance_f=3e-12)],
        (3.5e6, 3.9e6),
    ),
    "the 85 kHz filter at 0.5 kHz": (
        design.filter_tanks(design.FILTER_DESIGNS["0.8 kHz"]),
        design.filter_couplings(design.FILTER_DESIGNS["0.8 kHz"]),
        (58e3, 62e3),
    ),
    "the 85 kHz filter at 4 kHz": (
        design.filter_tanks(design.FILTER_DESIGNS["3.2 kHz"]),
        design.filter_couplings(design.FILTER_DESIGNS["3.2 kHz"]),
        (45e3, 75e3),
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_ngspice_solves_the_same_circuit_alike(case: str, ngspice: str) -> None:
    """To a ten-thousandth of a decibel over the whole sweep, skirts included."""
    tanks, couplings, (low_hz, high_hz) = CASES[case]

    frequency_hz, level_db = solve(ngspice, netlist(tanks, couplings), low_hz, high_hz, POINTS)

    ours = np.abs(Network(tanks, couplings).sweep_ohm(frequency_hz, 0, len(tanks) - 1))
    assert len(frequency_hz) == POINTS
    assert 20 * np.log10(ours) == pytest.approx(level_db, abs=1e-4)
