"""Circuits and noises that share no formula with the numerics: meshes and ladders as matrices, disturbances in time.

Circuits: loops coupled by mutual inductance, solved as Z I = V at each frequency (couplings and loading from the
low-pass prototype's g values: Matthaei, Young and Jones, Microwave Filters (1964), ch. 8, from memory; Butterworth
g = 1, 2, 1; Chebyshev of 0.5 dB g = 1.5963, 1.0967, 1.5963); crystals as their motional L, C, R with the holder's
capacitance across them, in a ladder of chain matrices. What a perfect measurement would report is searched on a dense
grid of the solved response.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Response = Callable[[Array], Array]

HALF = 10.0 * np.log10(0.5)
_GRID_POINTS = 40_001


@dataclass(frozen=True, slots=True)
class World:
    """A response in dB, where to sweep it, and its true centre and 3 dB width, in Hz."""

    level_db: Response
    start_hz: float
    stop_hz: float
    centre_hz: float
    width_hz: float


def world(response: Response, about_hz: float, reach_hz: float, widths: float = 4.0) -> World:
    """Search centre and width on a dense grid; the sweep is so many widths wide about the true centre."""
    grid = np.linspace(about_hz - reach_hz, about_hz + reach_hz, _GRID_POINTS)
    level = response(grid)
    above = level - level.max() - HALF
    inside = np.flatnonzero(above >= 0.0)
    first, last = int(inside[0]), int(inside[-1])
    lower = np.interp(0.0, above[first - 1 : first + 1], grid[first - 1 : first + 1])
    upper = np.interp(0.0, -above[last : last + 2], grid[last : last + 2])
    centre, width = float(lower + upper) / 2.0, float(upper - lower)
    return World(response, centre - 0.5 * widths * width, centre + 0.5 * widths * width, centre, width)


def coupled_loops(
    f0_hz: float, coefficients: Sequence[float], end_q: tuple[float, float], own_q: float = 1e4
) -> Response:
    """Loops of 100 uH, each coupled to the next by mutual inductance, loaded at the ends: dB of the last current."""
    henry, omega0 = 1e-4, 2 * np.pi * f0_hz
    count = len(coefficients) + 1
    farad = 1.0 / (omega0**2 * henry)
    ohms = np.full(count, omega0 * henry / own_q)
    ohms[0] += omega0 * henry / end_q[0]
    ohms[-1] += omega0 * henry / end_q[1]

    def response(f: Array) -> Array:
        omega = 2 * np.pi * np.asarray(f, dtype=float)
        mesh = np.zeros((len(omega), count, count), dtype=complex)
        for at in range(count):
            mesh[:, at, at] = ohms[at] + 1j * (omega * henry - 1.0 / (omega * farad))
        for at, k in enumerate(coefficients):
            mesh[:, at, at + 1] = mesh[:, at + 1, at] = -1j * omega * k * henry
        fed = np.zeros((len(omega), count, 1), dtype=complex)
        fed[:, 0] = 1.0
        return np.asarray(20 * np.log10(np.abs(np.linalg.solve(mesh, fed)[:, -1, 0])))

    return response


def coupled_tanks(f0_hz: float, coefficients: Sequence[float], end_q: tuple[float, float]) -> Response:
    """Parallel tanks coupled by mutual inductance, solved at their nodes: a current in, dB of the last voltage out."""
    henry, omega0 = 1e-4, 2 * np.pi * f0_hz
    count = len(coefficients) + 1
    coils = henry * (np.eye(count) + np.diag(coefficients, 1) + np.diag(coefficients, -1))
    farad = 1.0 / (omega0**2 * henry)
    siemens = np.zeros(count)
    siemens[0] += omega0 * farad / end_q[0]
    siemens[-1] += omega0 * farad / end_q[1]

    def response(f: Array) -> Array:
        omega = 2 * np.pi * np.asarray(f, dtype=float)[:, None, None]
        nodes = np.diag(siemens) + 1j * (omega * farad * np.eye(count) - np.linalg.inv(coils) / omega)
        fed = np.zeros((len(omega), count, 1), dtype=complex)
        fed[:, 0] = 1.0
        return np.asarray(20 * np.log10(np.abs(np.linalg.solve(nodes, fed)[:, -1, 0])))

    return response


def three_pole(g: Sequence[float], f0_hz: float = 455e3, share: float = 0.02, *, tanks: bool = False) -> World:
    """A three-pole filter by mutual inductance, so many parts of its frequency wide; of loops or of tanks."""
    k = [share / np.sqrt(one * other) for one, other in pairwise(g)]
    q = (g[0] / share, g[-1] / share)
    response = coupled_tanks(f0_hz, k, q) if tanks else coupled_loops(f0_hz, k, q)
    return world(response, f0_hz, 3.0 * share * f0_hz)


def over_coupled_pair(kq: float, f0_hz: float = 455e3, q: float = 80.0) -> World:
    """Two equal loops."""
    return world(coupled_loops(f0_hz, [kq / q], (q, q)), f0_hz, 5.0 * max(kq, 1.0) / q * f0_hz)


def crystal_ladder(count: int = 4, f0_hz: float = 9e6) -> World:
    """Crystals in series, capacitors to earth between them: narrow and leaning, with its poles of loss above."""
    motional_f, holder_f, ohms = 14e-15, 4e-12, 20.0
    henry = 1.0 / ((2 * np.pi * f0_hz) ** 2 * motional_f)
    shunt_f, load_ohms = 68e-12, 220.0

    def response(f: Array) -> Array:
        omega = 2 * np.pi * np.asarray(f, dtype=float)
        arm = ohms + 1j * (omega * henry - 1.0 / (omega * motional_f))
        series = 1.0 / (1.0 / arm + 1j * omega * holder_f)
        shunt = 1j * omega * shunt_f
        chain = np.broadcast_to(np.eye(2, dtype=complex), (len(omega), 2, 2))
        for at in range(count):
            link = np.zeros((len(omega), 2, 2), dtype=complex)
            link[:, 0, 0] = link[:, 1, 1] = 1.0
            link[:, 0, 1] = series + (1.0 / shunt if at in (0, count - 1) else 0.0)
            chain = chain @ link
            if at < count - 1:
                chain = chain @ np.array(
                    [[np.ones_like(shunt), np.zeros_like(shunt)], [shunt, np.ones_like(shunt)]]
                ).transpose(2, 0, 1)
        a, b, c, d = chain[:, 0, 0], chain[:, 0, 1], chain[:, 1, 0], chain[:, 1, 1]
        passed = 2.0 / (a + b / load_ohms + c * load_ohms + d)
        return np.asarray(20 * np.log10(np.abs(passed)))

    return world(response, f0_hz + 2e3, 12e3, widths=3.0)


def one_crystal(f0_hz: float = 455e3, share: float = 1e-3) -> World:
    """One crystal between resistances, its holder's capacitance across it not neutralised: a hole above its peak."""
    motional_f, ohms, ratio = 20e-15, 50.0, 400.0
    henry, holder_f = 1.0 / ((2 * np.pi * f0_hz) ** 2 * motional_f), ratio * motional_f
    load_ohms = share * 2 * np.pi * f0_hz * henry / 2.0 - ohms / 2.0

    def response(f: Array) -> Array:
        omega = 2 * np.pi * np.asarray(f, dtype=float)
        arm = ohms + 1j * (omega * henry - 1.0 / (omega * motional_f))
        through = 1.0 / (1.0 / arm + 1j * omega * holder_f)
        return np.asarray(20 * np.log10(np.abs(2 * load_ohms / (2 * load_ohms + through))))

    return world(response, f0_hz, 2e-3 * f0_hz)


def mechanical_filter(f0_hz: float = 455e3, share: float = 0.006, seed: int = 0) -> World:
    """Seven resonators coupled in a row, 0.5 dB of ripple, each a little off its frequency, as made ones are.

    g = 1.7372, 1.2583, 2.6381, 1.3444, 2.6381, 1.2583, 1.7372 (same source).
    """
    g = (1.7372, 1.2583, 2.6381, 1.3444, 2.6381, 1.2583, 1.7372)
    henry, omega0, count = 1e-4, 2 * np.pi * f0_hz, 7
    off = 0.03 * share * np.random.default_rng([seed, 77]).normal(size=count)
    farads = 1.0 / ((omega0 * (1.0 + off)) ** 2 * henry)
    ohms = np.full(count, omega0 * henry / 8e3)
    ohms[0] += omega0 * henry * share / g[0]
    ohms[-1] += omega0 * henry * share / g[-1]
    k = [share / np.sqrt(one * other) for one, other in pairwise(g)]

    def response(f: Array) -> Array:
        omega = 2 * np.pi * np.asarray(f, dtype=float)
        mesh = np.zeros((len(omega), count, count), dtype=complex)
        for at in range(count):
            mesh[:, at, at] = ohms[at] + 1j * (omega * henry - 1.0 / (omega * farads[at]))
        for at, one in enumerate(k):
            mesh[:, at, at + 1] = mesh[:, at + 1, at] = 1j * omega0 * one * henry
        fed = np.zeros((len(omega), count, 1), dtype=complex)
        fed[:, 0] = 1.0
        return np.asarray(20 * np.log10(np.abs(np.linalg.solve(mesh, fed)[:, -1, 0])))

    return world(response, f0_hz, 2.0 * share * f0_hz, widths=2.5)


def single(f0_hz: float = 455e3, q: float = 50.0) -> World:
    """One loop."""
    return world(coupled_loops(f0_hz, [], (2 * q, 2 * q)), f0_hz, 4.0 / q * f0_hz)


def pink(count: int, dice: np.random.Generator, sigma: float) -> Array:
    """Noise with a spectrum of 1/f, shape (count,): part of a stretch eight times as long, scaled to its sigma."""
    long = 8 * count
    spectrum = np.fft.rfft(dice.normal(size=long))
    rate = np.fft.rfftfreq(long)
    rate[0] = np.inf
    made = np.fft.irfft(spectrum / np.sqrt(rate), long)
    part = made[3 * count : 4 * count]
    return np.asarray(sigma * (part - part.mean()) / np.std(made))
