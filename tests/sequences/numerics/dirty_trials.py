"""Trials on dirty readings: how often centre and width are held, how often they are wrong in silence.

Silent is a figure off by more than three of its sigmas while no doubt names what is at work.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.figures import DoubtName, Estimate
from sequences.numerics.responses.passband import PassbandFit, fit_passband
from tests.sequences.numerics import dirty_worlds as worlds
from tests.sequences.numerics.dirty_worlds import World

Array = NDArray[np.float64]
Make = Callable[[World, np.random.Generator], tuple[Array, Array]]

TWO_SIDED_95 = 1.959963984540054
NO_CAUSE = (DoubtName.UNCERTAIN, DoubtName.SAME_CURVE, DoubtName.SECOND_PEAK, DoubtName.WIDTH_UNDER_STEP)
"""Doubts that name no cause of a wrong centre or width: with one of these alone an error is silent."""

READINGS = 101


@dataclass(frozen=True, slots=True)
class Cell:
    """One kind of world and what is done to its readings."""

    world: Callable[[], World]
    read: Make


@dataclass(frozen=True, slots=True)
class Tally:
    """Counts over trials: intervals that held the truth, figures withheld, silent errors, trials with any doubt.

    centre_bias, width_bias: mean error in sigmas. worst: the largest silent error, in sigmas. names: doubts by name.
    """

    trials: int
    centre: int
    width: int
    no_centre: int
    no_width: int
    silent: int
    doubted: int
    centre_bias: float
    width_bias: float
    centre_sigma: float
    names: tuple[tuple[str, int], ...]


def even(world: World, noise_db: float, dice: np.random.Generator, count: int = READINGS) -> tuple[Array, Array]:
    """An even sweep with white noise."""
    f = np.linspace(world.start_hz, world.stop_hz, count)
    return f, world.level_db(f) + dice.normal(0.0, noise_db, count)


def white(noise_db: float) -> Make:
    """White noise."""
    return lambda world, dice: even(world, noise_db, dice)


def quantised(step_db: float, noise_db: float) -> Make:
    """White noise, then read to so many dB."""

    def read(world: World, dice: np.random.Generator) -> tuple[Array, Array]:
        f, level = even(world, noise_db, dice)
        return f, np.round((level + dice.uniform(0.0, step_db)) / step_db) * step_db

    return read


def slow(sigma_db: float, white_db: float = 0.02) -> Make:
    """Noise with a spectrum of 1/f over the time of the sweep."""

    def read(world: World, dice: np.random.Generator) -> tuple[Array, Array]:
        f, level = even(world, white_db, dice)
        return f, level + worlds.pink(len(f), dice, sigma_db)

    return read


def clipped(below_db: float, noise_db: float) -> Make:
    """A meter that stops so far below the top."""

    def read(world: World, dice: np.random.Generator) -> tuple[Array, Array]:
        f, level = even(world, 0.0, dice)
        return f, np.minimum(level, level.max() - below_db) + dice.normal(0.0, noise_db, len(f))

    return read


def drifting_gain(total_db: float, noise_db: float) -> Make:
    """The gain moves evenly over the sweep."""

    def read(world: World, dice: np.random.Generator) -> tuple[Array, Array]:
        f, level = even(world, noise_db, dice)
        return f, level + total_db * np.linspace(-0.5, 0.5, len(f))

    return read


@cache
def _three_pole(g: tuple[float, ...], *, tanks: bool = False) -> World:
    return worlds.three_pole(g, tanks=tanks)


@cache
def _pair(kq: float) -> World:
    return worlds.over_coupled_pair(kq)


_single = cache(worlds.single)
_ladder = cache(worlds.crystal_ladder)
_crystal = cache(worlds.one_crystal)
_mechanical = cache(worlds.mechanical_filter)

BUTTERWORTH, CHEBYSHEV = (1.0, 2.0, 1.0), (1.5963, 1.0967, 1.5963)

CELLS: dict[str, Cell] = {
    "single, clean 0.1 dB": Cell(_single, white(0.1)),
    "3-pole Butterworth by mutual inductance": Cell(lambda: _three_pole(BUTTERWORTH), white(0.1)),
    "3-pole Chebyshev by mutual inductance": Cell(lambda: _three_pole(CHEBYSHEV), white(0.1)),
    "3-pole Butterworth, tanks": Cell(lambda: _three_pole(BUTTERWORTH, tanks=True), white(0.1)),
    "3-pole Chebyshev, tanks": Cell(lambda: _three_pole(CHEBYSHEV, tanks=True), white(0.1)),
    "pair, kQ 2": Cell(lambda: _pair(2.0), white(0.1)),
    "pair, kQ 3": Cell(lambda: _pair(3.0), white(0.1)),
    "four-crystal ladder": Cell(_ladder, white(0.1)),
    "one crystal, holder not neutralised": Cell(_crystal, white(0.1)),
    "mechanical filter, 7 resonators": Cell(_mechanical, white(0.1)),
    "saturated 2 dB below the top": Cell(_single, clipped(2.0, 0.05)),
    "saturated 0.5 dB below the top": Cell(_single, clipped(0.5, 0.05)),
    "read to 0.5 dB, noise 0.1 dB": Cell(_single, quantised(0.5, 0.1)),
    "read to 0.5 dB, noise 0.02 dB": Cell(_single, quantised(0.5, 0.02)),
    "read to 0.5 dB, pair kQ 2": Cell(lambda: _pair(2.0), quantised(0.5, 0.05)),
    "1/f noise 0.2 dB": Cell(_single, slow(0.2)),
    "1/f noise 0.2 dB, pair kQ 2": Cell(lambda: _pair(2.0), slow(0.2)),
    "gain drift of 1 dB": Cell(_single, drifting_gain(1.0, 0.1)),
}


def count(name: str, trials: int, first: int = 0) -> Tally:
    """Fit so many seeded sweeps of a cell."""
    cell, number = CELLS[name], list(CELLS).index(name)
    world = cell.world()
    dice = (np.random.default_rng([trial, number]) for trial in range(first, first + trials))
    return tally([fit_passband(*cell.read(world, each)) for each in dice], world)


def tally(fits: list[PassbandFit], world: World, more_doubts: list[tuple[str, ...]] | None = None) -> Tally:
    """Count over fits of one world; more doubts are those that the procedure had, trial by trial."""
    extra = more_doubts or [()] * len(fits)
    off = [(_sigmas(fit.centre, world.centre_hz), _sigmas(fit.width_3db, world.width_hz)) for fit in fits]
    named = [
        (*(doubt.name.value for doubt in fit.doubts if doubt.name not in NO_CAUSE), *more)
        for fit, more in zip(fits, extra, strict=True)
    ]
    silent = 0
    for name, pair in zip(named, off, strict=True):
        worst = max((abs(one) for one in pair if one is not None), default=0.0)
        silent += not name and worst > 3.0
    centres = [one for one, _ in off if one is not None]
    widths = [one for _, one in off if one is not None]
    names: dict[str, int] = {}
    for one in named:
        for each in set(one):
            names[each] = names.get(each, 0) + 1
    sigmas = [fit.centre.sigma / world.width_hz for fit in fits if fit.centre is not None]
    return Tally(
        len(fits),
        sum(abs(one) <= TWO_SIDED_95 for one in centres),
        sum(abs(one) <= TWO_SIDED_95 for one in widths),
        len(fits) - len(centres),
        len(fits) - len(widths),
        silent,
        sum(bool(one) for one in named),
        float(np.mean(centres)) if centres else float("nan"),
        float(np.mean(widths)) if widths else float("nan"),
        float(np.median(sigmas)) if sigmas else float("nan"),
        tuple(sorted(names.items(), key=lambda each: -each[1])),
    )


def _sigmas(estimate: Estimate | None, truth: float) -> float | None:
    return None if estimate is None else (estimate.value - truth) / max(estimate.sigma, 1e-12)
