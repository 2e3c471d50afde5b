"""The response curves of tuned circuits and filters in dB, with their derivatives.

Every curve here is exact: detuning is `f/f0 - f0/f`, never its narrow-band shortcut. All share the first two
parameters and the last:

    [0] frequency_hz  f0, the geometric middle: for any curve symmetrical in exact detuning, f1 f2 = f0^2
    [1] log_width     ln W, W in Hz, so that a step of a fit can never make a width negative
    [-1] level_db     the level at f0 (for a flat-topped filter: at the top of its ripples)

and are written in u = (f - f0^2/f) / W, which is exactly -1 and +1 at two frequencies W apart.

References:
    Universal resonance curve and cascades: F. E. Terman, Radio Engineers' Handbook (1943), section 3 (from memory).
    Two coupled circuits: C. B. Aiken, Two-Mesh Tuned Coupled Circuit Filters, Proc. IRE 25 (1937) (from memory).
"""

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DB_PER_NEPER_OF_POWER = 10.0 / math.log(10.0)
HALF_POWER_DB = 10.0 * math.log10(2.0)


@dataclass(frozen=True, slots=True)
class Detuning:
    """Exact detuning of each frequency, and how it moves with f0; the arrays have shape (..., n).

    `tilted` is u (f/f0 + f0/f) / 2: u again in the narrow band, but of the form in which a skewed pair is exact.
    """

    u: Array
    u_by_frequency: Array
    tilted: Array
    tilted_by_frequency: Array


def _detune(parameters: Array, frequency_hz: Array, *, tilted: bool) -> Detuning:
    f0 = parameters[..., 0, None]
    per_width = np.exp(-parameters[..., 1, None])
    mirror = f0 / frequency_hz
    u = (frequency_hz - f0 * mirror) * per_width
    u_by_frequency = mirror * (-2.0 * per_width)
    if not tilted:
        return Detuning(u, u_by_frequency, u, u_by_frequency)
    ratio = frequency_hz / f0
    half = 0.5 * per_width
    up, down = ratio * ratio, mirror * mirror
    return Detuning(u, u_by_frequency, f0 * (up - down) * half, -(up + 3.0 * down) * half)


class Curve(ABC):
    """One kind of response curve: pure functions of parameters, shape (..., p), and frequencies, shape (n,)."""

    parameter_names: ClassVar[tuple[str, ...]]

    @property
    @abstractmethod
    def name(self) -> str:
        """What the trade calls a curve of this kind."""

    @abstractmethod
    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """Level in dB, shape (..., n), and its derivative by each parameter, shape (..., n, p).

        Parameters for which the curve has no real level (its inverse power is not positive) give NaN there.
        """

    def level_db(self, parameters: Array, frequency_hz: Array) -> Array:
        """Level in dB, shape (..., n)."""
        return self.level_and_jacobian(parameters, frequency_hz)[0]

    def jacobian(self, parameters: Array, frequency_hz: Array) -> Array:
        """Derivative of the level by each parameter, shape (..., n, p)."""
        return self.level_and_jacobian(parameters, frequency_hz)[1]


def _as_jacobian(rows: tuple[Array, ...]) -> Array:
    """Put derivatives, each of shape (..., n), side by side as columns without copying them twice."""
    packed = np.empty((*rows[0].shape[:-1], len(rows), rows[0].shape[-1]))
    for index, row in enumerate(rows):
        packed[..., index, :] = row
    return packed.swapaxes(-1, -2)


def _log_of_positive(power: Array) -> Array:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.log(power))


@dataclass(frozen=True)
class EqualCircuits(Curve):
    """`count` equal single circuits in cascade, tuned alike; one of them is the single circuit.

    W is the 3 dB width of the whole cascade, so the Q of each circuit is f0 sqrt(2^(1/count) - 1) / W.
    """

    count: int = 1
    parameter_names: ClassVar[tuple[str, ...]] = ("frequency_hz", "log_width", "level_db")

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return "single circuit" if self.count == 1 else f"{self.count} equal circuits"

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        at = _detune(parameters, frequency_hz, tilted=False)
        shrink = 2.0 ** (1.0 / self.count) - 1.0
        scaled = shrink * at.u
        inverse_power = 1.0 + scaled * at.u
        level = parameters[..., -1, None] - self.count * DB_PER_NEPER_OF_POWER * np.log(inverse_power)
        by_u = (-2.0 * self.count * DB_PER_NEPER_OF_POWER) * scaled / inverse_power
        return level, _as_jacobian((by_u * at.u_by_frequency, -by_u * at.u, np.ones_like(level)))


@dataclass(frozen=True)
class SymmetricalPair(Curve):
    """Two circuits whose curve is symmetrical in exact detuning: inverse power 1 + (1 - s) u^2 + s u^4.

    The same curve is drawn by two coupled circuits of equal frequency and by a stagger-tuned pair of equal Q, so
    no sweep can tell these apart. The shape s holds the whole family: 0 single circuit, (sqrt 2 - 1)^2 two equal
    circuits (coupling gone), 1 critical coupling, above 1 two humps, up to (sqrt 2 + 1)^2 where they part.
    W is the width 3 dB below the level at f0.
    """

    parameter_names: ClassVar[tuple[str, ...]] = ("frequency_hz", "log_width", "shape", "level_db")

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return "coupled pair"

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        at = _detune(parameters, frequency_hz, tilted=False)
        shape = parameters[..., 2, None]
        square = at.u * at.u
        lift = square * (square - 1.0)
        inverse_power = 1.0 + square + shape * lift
        level = parameters[..., -1, None] - DB_PER_NEPER_OF_POWER * _log_of_positive(inverse_power)
        by_power = -DB_PER_NEPER_OF_POWER / inverse_power
        by_u = by_power * at.u * (2.0 * (1.0 - shape) + 4.0 * shape * square)
        rows = (by_u * at.u_by_frequency, -by_u * at.u, by_power * lift, np.ones_like(level))
        return level, _as_jacobian(rows)


@dataclass(frozen=True)
class SkewedPair(Curve):
    """Any two circuits, coupled or stagger-tuned, each with its own frequency and Q: the pair above plus g u.

    A response alone fixes only five of the six figures of two coupled circuits; these are the five, and every such
    pair has exactly one set of them (see `circuits.pair_parameters`). g > 0 lifts the lower hump.
    """

    parameter_names: ClassVar[tuple[str, ...]] = ("frequency_hz", "log_width", "shape", "skew", "level_db")

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return "skewed pair"

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        at = _detune(parameters, frequency_hz, tilted=True)
        shape, skew = parameters[..., 2, None], parameters[..., 3, None]
        square = at.u * at.u
        lift = square * (square - 1.0)
        inverse_power = 1.0 + square + shape * lift + skew * at.tilted
        level = parameters[..., -1, None] - DB_PER_NEPER_OF_POWER * _log_of_positive(inverse_power)
        by_power = -DB_PER_NEPER_OF_POWER / inverse_power
        by_u = by_power * at.u * (2.0 * (1.0 - shape) + 4.0 * shape * square)
        by_tilted = by_power * skew
        rows = (
            by_u * at.u_by_frequency + by_tilted * at.tilted_by_frequency,
            -by_u * at.u - by_tilted * at.tilted,
            by_power * lift,
            by_power * at.tilted,
            np.ones_like(level),
        )
        return level, _as_jacobian(rows)


@dataclass(frozen=True)
class FlatTop(Curve):
    """A filter of `poles` poles, maximally flat or with equal ripples: inverse power 1 + R(u)^2, R(1) = 1.

    R(u) = e^n T_n(u/e) / (e^n T_n(1/e)), T_n the Chebyshev polynomial; it depends on the shape v = e^2 alone:
    0 is the Butterworth response, v towards 1 ripples of up to 3 dB, v < 0 a rounder shoulder. W is the 3 dB width.
    """

    poles: int = 4
    parameter_names: ClassVar[tuple[str, ...]] = ("frequency_hz", "log_width", "shape", "level_db")

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return f"flat-topped filter of {self.poles} poles"

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        at = _detune(parameters, frequency_hz, tilted=False)
        shape = parameters[..., 2, None]
        response, by_u, by_shape = self._response(at.u, shape)
        at_edge, _, edge_by_shape = self._response(np.ones_like(shape), shape)
        scale = 1.0 / at_edge
        ratio = response * scale
        inverse_power = 1.0 + ratio * ratio
        level = parameters[..., -1, None] - DB_PER_NEPER_OF_POWER * np.log(inverse_power)
        by_ratio = (-2.0 * DB_PER_NEPER_OF_POWER) * scale * ratio / inverse_power
        level_by_u = by_ratio * by_u
        rows = (
            level_by_u * at.u_by_frequency,
            -level_by_u * at.u,
            by_ratio * (by_shape - ratio * edge_by_shape),
            np.ones_like(level),
        )
        return level, _as_jacobian(rows)

    def _response(self, u: Array, shape: Array) -> tuple[Array, Array, Array]:
        """e^n T_n(u/e) by the three-term recurrence, with its derivatives by u and by v = e^2."""
        before, here = np.ones_like(u), u
        before_u, here_u = np.zeros_like(u), np.ones_like(u)
        before_v, here_v = np.zeros_like(u), np.zeros_like(u)
        twice = 2.0 * u
        for _ in range(self.poles - 1):
            following = twice * here - shape * before
            following_u = 2.0 * here + twice * here_u - shape * before_u
            following_v = twice * here_v - before - shape * before_v
            before, before_u, before_v = here, here_u, here_v
            here, here_u, here_v = following, following_u, following_v
        return here, here_u, here_v


SINGLE_CIRCUIT = EqualCircuits(1)
EQUAL_CIRCUITS = tuple(EqualCircuits(count) for count in range(1, 9))
SYMMETRICAL_PAIR = SymmetricalPair()
SKEWED_PAIR = SkewedPair()
FLAT_TOPS = tuple(FlatTop(poles) for poles in range(3, 9))

KINDS: tuple[Curve, ...] = (*EQUAL_CIRCUITS, SYMMETRICAL_PAIR, SKEWED_PAIR, *FLAT_TOPS)
"""Every kind that is compared. A flat top of two poles is the coupled pair, so flat tops start at three."""
