"""Circuits solved by ngspice, a circuit simulator we did not write: what a fit is held against."""

import math
import subprocess
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

POINTS_DENSE = 20_001
"""Solved so finely that centre and width can be read off the curve itself, to a ten-thousandth of the width."""


@dataclass(frozen=True)
class Tank:
    """A parallel LCR, by its own resonance and Q, with L = 100 uH."""

    resonance_hz: float
    q: float

    @property
    def farads(self) -> float:
        """The capacitance that resonates it."""
        return 1 / ((2 * math.pi * self.resonance_hz) ** 2 * 1e-4)

    @property
    def ohms(self) -> float:
        """The parallel resistance that gives its Q."""
        return self.q * 2 * math.pi * self.resonance_hz * 1e-4


def single(tank: Tank) -> str:
    """A current source into one circuit; the output is the voltage across it."""
    return chain([tank], [])


def pair(first: Tank, second: Tank, coupling: float) -> str:
    """Two circuits coupled by mutual inductance; the output is the voltage across the second."""
    return chain([first, second], [coupling])


def chain(tanks: Sequence[Tank], couplings: Sequence[float]) -> str:
    """Circuits each coupled to the next by mutual inductance; a current into the first, the voltage of the last out."""
    nodes = [*(f"n{at}" for at in range(len(tanks) - 1)), "out"]
    circuits = "".join(_circuit(at, node, tank, 0) for at, (node, tank) in enumerate(zip(nodes, tanks, strict=True)))
    return (
        _FEED.format(nodes[0])
        + circuits
        + "".join(f"K{at} L{at} L{at + 1} {k:.9f}\n" for at, k in enumerate(couplings))
    )


def pair_by_capacitor(first: Tank, second: Tank, coupling: float) -> str:
    """Two circuits coupled by a capacitor between their tops, which stands for part of the capacitance of each."""
    farads = coupling * math.sqrt(first.farads * second.farads)
    circuits = _circuit(0, "in", first, farads) + _circuit(1, "out", second, farads)
    return _FEED.format("in") + circuits + f"CK in out {farads:.12e}\n"


_FEED = "I1 0 {} AC 1\n"


def _circuit(number: int, node: str, tank: Tank, elsewhere_farads: float) -> str:
    return (
        f"L{number} {node} 0 100u\nC{number} {node} 0 {tank.farads - elsewhere_farads:.12e}\n"
        f"R{number} {node} 0 {tank.ohms:.9e}\n"
    )


def butterworth_band_pass(centre_hz: float, width_hz: float) -> str:
    """A doubly terminated four-pole LC ladder of lossless branches, 50 ohm.

    Low-pass prototype g = 0.7654, 1.8478, 1.8478, 0.7654 (Matthaei, Young and Jones, Microwave Filters (1964), table
    4.05-1, from memory), shunt branch first, each turned to a band-pass branch: w L = 50 g / fractional width in
    series, w C = g / (50 fractional width) in shunt.
    """
    omega, share = 2 * math.pi * centre_hz, width_hz / centre_hz
    g = (0.7654, 1.8478, 1.8478, 0.7654)
    shunt = [value / (50 * share * omega) for value in (g[0], g[2])]
    series = [50 * value / (share * omega) for value in (g[1], g[3])]
    return (
        f"V1 src 0 AC 1\nRs src a 50\n"
        f"Ca a 0 {shunt[0]:.12e}\nLa a 0 {1 / (omega**2 * shunt[0]):.12e}\n"
        f"Lb a b {series[0]:.12e}\nCb b c {1 / (omega**2 * series[0]):.12e}\n"
        f"Cc c 0 {shunt[1]:.12e}\nLc c 0 {1 / (omega**2 * shunt[1]):.12e}\n"
        f"Ld c d {series[1]:.12e}\nCd d out {1 / (omega**2 * series[1]):.12e}\nRl out 0 50\n"
    )


def solve(ngspice: str, netlist: str, start_hz: float, stop_hz: float, points: int) -> tuple[Array, Array]:
    """Give frequencies in Hz and levels in dB at the node `out`, each of shape (points,)."""
    with tempfile.TemporaryDirectory() as folder:
        table = Path(folder) / "level.txt"
        deck = (
            f"* a response\n{netlist}.ac lin {points} {start_hz:.6f} {stop_hz:.6f}\n"
            f".control\nset wr_singlescale\nset numdgt=12\nrun\nwrdata {table} vdb(out)\nquit 0\n.endc\n.end\n"
        )
        (Path(folder) / "deck.cir").write_text(deck)
        subprocess.run(
            [ngspice, "-b", "deck.cir"],
            cwd=folder,
            capture_output=True,
            check=True,
            timeout=60,
            stdin=subprocess.DEVNULL,
        )
        columns = np.loadtxt(table)
    return columns[:, 0], columns[:, 1]


@dataclass(frozen=True)
class Landmarks:
    """What is read off a densely solved curve, without any fit."""

    peak_hz: float
    centre_hz: float
    width_3db_hz: float
    width_6db_hz: float


def landmarks(frequency_hz: Array, level_db: Array) -> Landmarks:
    """Read the outermost half-power points, and those 6 dB down, off a dense curve."""
    lower_hz, upper_hz = _edges_hz(frequency_hz, level_db, 10 * math.log10(2))
    lower_6db_hz, upper_6db_hz = _edges_hz(frequency_hz, level_db, 6)
    peak_hz = float(frequency_hz[int(np.argmax(level_db))])
    return Landmarks(peak_hz, (lower_hz + upper_hz) / 2, upper_hz - lower_hz, upper_6db_hz - lower_6db_hz)


def _edges_hz(frequency_hz: Array, level_db: Array, depth_db: float) -> tuple[float, float]:
    above = level_db - (level_db.max() - depth_db)
    inside = np.flatnonzero(above >= 0)
    first, last = int(inside[0]), int(inside[-1])
    lower_hz = float(np.interp(0, above[first - 1 : first + 1], frequency_hz[first - 1 : first + 1]))
    upper_hz = float(np.interp(0, -above[last : last + 2], frequency_hz[last : last + 2]))
    return lower_hz, upper_hz
