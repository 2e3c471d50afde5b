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
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sequences.numerics.arrays import Array

if TYPE_CHECKING:
    from sequences.numerics.responses.starts import Outline

DB_PER_NEPER_OF_POWER = 10.0 / math.log(10.0)
HALF_POWER_DB = 10.0 * math.log10(2.0)


def detune(parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
    """Exact detuning u and its derivative by f0; both of shape (..., n)."""
    f0 = parameters[..., 0, None]
    per_width = np.exp(-parameters[..., 1, None])
    mirror = f0 / frequency_hz
    return (frequency_hz - f0 * mirror) * per_width, mirror * (-2.0 * per_width)


def _tilt(parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
    """Give u (f/f0 + f0/f) / 2, u again in the narrow band but exact for a skewed pair, and its derivative by f0."""
    f0 = parameters[..., 0, None]
    half = 0.5 * np.exp(-parameters[..., 1, None])
    up, down = (frequency_hz / f0) ** 2, (f0 / frequency_hz) ** 2
    return f0 * (up - down) * half, -(up + 3.0 * down) * half


class Curve(ABC):
    """One kind of response curve: pure functions of parameters, shape (..., p), and frequencies, shape (n,)."""

    @property
    @abstractmethod
    def parameter_names(self) -> tuple[str, ...]:
        """What each parameter is, its unit at the end where it has one."""

    @property
    @abstractmethod
    def name(self) -> str:
        """What the trade calls a curve of this kind."""

    @abstractmethod
    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """Level in dB, shape (..., n), and its derivative by each parameter, shape (..., n, p).

        Parameters for which the curve has no real level (its inverse power is not positive) give NaN there.
        """

    @property
    def family(self) -> str:
        """The name without its fine distinctions: how many circuits or poles, how tightly coupled."""
        return self.name

    @property
    def holder(self) -> "Curve":
        """The largest kind that holds this one as a limit: what tells families apart, within which kinds share."""
        return self

    @property
    def leans(self) -> bool:
        """Whether the kind can be lopsided."""
        return False

    @property
    def leaning(self) -> "Curve":
        """The kind that is this one with a skew more."""
        return Lopsided(self)

    def starts(self, rough: "Outline") -> Sequence[Array]:  # noqa: ARG002 - for the kinds that use it
        """Where a fit of this kind may start; none for the kinds that `kinds` fits in an order of its own."""
        return ()

    def loaded_q(self, parameters: Array) -> tuple[float, Array] | None:  # noqa: ARG002 - the same
        """Loaded Q of each circuit and its derivative by the parameters; None where there is none to give at once."""
        return None

    def place(self, parameters: Array) -> tuple[float, float]:
        """Middle and 3 dB width in Hz, roughly: where to look for the curve's marks."""
        return float(parameters[0]), float(np.exp(parameters[1]))  # of a hopeless fit it may be nothing, or endless

    def level_db(self, parameters: Array, frequency_hz: Array) -> Array:
        """Level in dB, shape (..., n)."""
        return self.level_and_jacobian(parameters, frequency_hz)[0]

    def jacobian(self, parameters: Array, frequency_hz: Array) -> Array:
        """Derivative of the level by each parameter, shape (..., n, p)."""
        return self.level_and_jacobian(parameters, frequency_hz)[1]


def as_jacobian(rows: tuple[Array, ...]) -> Array:
    """Put derivatives, each of shape (..., n), side by side as columns, and that by the level, which is one, last."""
    packed = np.empty((*rows[0].shape[:-1], len(rows) + 1, rows[0].shape[-1]))
    for index, row in enumerate(rows):
        packed[..., index, :] = row
    packed[..., -1, :] = 1.0
    return packed.swapaxes(-1, -2)


def powers_upwards(square: Array, highest: int) -> Array:
    """Powers 0 to `highest` of an array, shape (..., n), lowest first; shape (..., highest + 1, n)."""
    powers = np.empty((*square.shape[:-1], highest + 1, square.shape[-1]))
    powers[..., 0, :] = 1.0
    for index in range(highest):
        np.multiply(powers[..., index, :], square, out=powers[..., index + 1, :])
    return powers


def _log_of_positive(power: Array) -> Array:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.log(power))


@dataclass(frozen=True)
class EqualCircuits(Curve):
    """`count` equal single circuits in cascade, tuned alike; one of them is the single circuit.

    W is the 3 dB width of the whole cascade, so the Q of each circuit is f0 sqrt(2^(1/count) - 1) / W.
    """

    count: int = 1

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """f0, ln W, level."""
        return ("frequency_hz", "log_width", "level_db")

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return "single circuit" if self.count == 1 else f"{self.count} equal circuits"

    @property
    def family(self) -> str:
        """See Curve."""
        return self.name if self.count == 1 else "cascade of equal circuits"

    @property
    def holder(self) -> Curve:
        """See Curve: one or two equal circuits are pairs, three or four are any so many circuits."""
        if self.count <= SKEWED_PAIR.count:
            return SKEWED_PAIR
        return SKEWED_CIRCUITS[-1] if self.count <= SKEWED_CIRCUITS[-1].count else self

    def loaded_q(self, parameters: Array) -> tuple[float, Array]:
        """See Curve."""
        value = parameters[0] / math.exp(parameters[1]) * math.sqrt(2.0 ** (1.0 / self.count) - 1.0)
        return value, np.array([value / parameters[0], -value, 0.0])

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        u, u_by_frequency = detune(parameters, frequency_hz)
        scaled = (2.0 ** (1.0 / self.count) - 1.0) * u
        inverse_power = 1.0 + scaled * u
        level = parameters[..., -1, None] - self.count * DB_PER_NEPER_OF_POWER * np.log(inverse_power)
        by_u = (-2.0 * self.count * DB_PER_NEPER_OF_POWER) * scaled / inverse_power
        return level, as_jacobian((by_u * u_by_frequency, -by_u * u))


@dataclass(frozen=True)
class StaggeredCircuits(Curve):
    """Any `count` circuits, each with its own frequency and Q, coupled or not: the inverse power is of degree 2 count.

    1 + u^2 + sum of s_j (u^2j - u^2) + sum of g_j (u - u^(2j+1)), the latter only where `skewed`. The level at u = -1
    and u = +1 is 3 dB below that at f0 whatever s and g are, so f0 and W hardly move as these do, and the fit stays
    well conditioned from a single circuit to parted humps.

    Two coupled circuits and a stagger-tuned pair draw the same curves, so no sweep can tell them apart. Without skew
    s_2 holds their whole family: 0 single circuit, (sqrt 2 - 1)^2 two equal circuits (coupling gone), 1 critical
    coupling, above 1 two humps, up to (sqrt 2 + 1)^2 where they part. With skew it is any pair whatever: a response
    fixes only five of the six figures of two coupled circuits. `circuits.pair_parameters` finds these five.
    """

    count: int = 2
    skewed: bool = False

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """f0, ln W, s_2 to s_count, g_1 to g_(count - 1) where skewed, level."""
        shapes = tuple(f"shape_{j}" for j in range(2, self.count + 1))
        skews = tuple(f"skew_{j}" for j in range(1, self.count)) if self.skewed else ()
        return ("frequency_hz", "log_width", *shapes, *skews, "level_db")

    @property
    def name(self) -> str:
        """What the trade calls it."""
        if self.count == 2:  # noqa: PLR2004 - a pair
            return "skewed pair" if self.skewed else "coupled or stagger-tuned pair"
        return f"{self.count} {'skewed' if self.skewed else 'staggered'} circuits"

    @property
    def holder(self) -> Curve:
        """See Curve."""
        return SKEWED_PAIR if self.count == SKEWED_PAIR.count else SKEWED_CIRCUITS[-1]

    @property
    def leans(self) -> bool:
        """See Curve."""
        return self.skewed

    @property
    def leaning(self) -> Curve:
        """See Curve."""
        return replace(self, skewed=True)

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        u, u_by_frequency = detune(parameters, frequency_hz)
        jacobian = self._terms(parameters) @ powers_upwards(u * u, self.count)
        size = parameters.shape[-1]
        inverse_power, by_square = jacobian[..., 0, :], jacobian[..., 1, :]
        if self.skewed:
            tilted, tilted_by_frequency = _tilt(parameters, frequency_hz)
            odd = jacobian[..., size, :]
            inverse_power = inverse_power + tilted * odd
            by_square = by_square + tilted * jacobian[..., size + 1, :]
            jacobian[..., self.count + 1 : size - 1, :] *= tilted[..., None, :]
        level = parameters[..., -1, None] - DB_PER_NEPER_OF_POWER * _log_of_positive(inverse_power)
        by_power = -DB_PER_NEPER_OF_POWER / inverse_power
        jacobian[..., 2 : size - 1, :] *= by_power[..., None, :]
        by_u = 2.0 * by_power * by_square * u
        by_frequency, by_width = by_u * u_by_frequency, -by_u * u
        if self.skewed:
            by_tilted = by_power * odd
            by_frequency += by_tilted * tilted_by_frequency
            by_width -= by_tilted * tilted
        jacobian[..., 0, :], jacobian[..., 1, :] = by_frequency, by_width
        return level, jacobian[..., :size, :].swapaxes(-1, -2)

    def level_db(self, parameters: Array, frequency_hz: Array) -> Array:
        """See Curve."""
        u, _ = detune(parameters, frequency_hz)
        size, powers = parameters.shape[-1], powers_upwards(u * u, self.count)
        terms = self._terms(parameters)
        inverse_power = (terms[..., :1, :] @ powers)[..., 0, :]
        if self.skewed:
            tilted, _ = _tilt(parameters, frequency_hz)
            inverse_power = inverse_power + tilted * (terms[..., size : size + 1, :] @ powers)[..., 0, :]
        return np.asarray(parameters[..., -1, None] - DB_PER_NEPER_OF_POWER * _log_of_positive(inverse_power))

    def _terms(self, parameters: Array) -> Array:
        """Coefficients by u^2, lowest first, of all that a level and its derivatives are made of.

        One row for each parameter: the even part of the inverse power and its derivative by u^2 in place of f0 and
        ln W, the factor of each shape and of each skew, one for the level. Where there is skew, below them the odd
        factor and its derivative; shape (..., p, count + 1) or (..., p + 2, count + 1).
        """
        fixed, by_parameter = _terms_of_circuits(self.count, self.skewed)
        terms = fixed + parameters[..., 2:-1] @ by_parameter
        return np.asarray(terms.reshape(*terms.shape[:-1], -1, self.count + 1))


@lru_cache
def _terms_of_circuits(count: int, skewed: bool) -> tuple[Array, Array]:
    """What of StaggeredCircuits._terms is fixed, shape (m,), and what goes with each shape and skew, shape (k, m)."""
    others = (count - 1) * (2 if skewed else 1)
    size = others + 3
    by_parameter = np.zeros((others, size + 2 * skewed, count + 1))
    fixed = np.zeros(by_parameter.shape[1:])
    fixed[0, :2] = fixed[-1 - 2 * skewed, 0] = 1.0
    for j in range(2, count + 1):
        by_parameter[j - 2, 0, [1, j]] = fixed[j, [1, j]] = -1.0, 1.0
    for j in range(1, count if skewed else 1):
        at = count - 2 + j
        by_parameter[at, size, [0, j]] = fixed[at + 2, [0, j]] = 1.0, -1.0
    for part in (0, size)[: 1 + skewed]:
        for terms in (fixed, *by_parameter):
            terms[part + 1, :-1] = terms[part, 1:] * np.arange(1.0, count + 1.0)
    return fixed.reshape(-1), by_parameter.reshape(others, -1)


@dataclass(frozen=True)
class Lopsided(Curve):
    """Another curve with its two sides raised and lowered by t 2u / (1 + u^2) dB, as a circuit a little off does."""

    base: Curve

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """The base's, with the tilt in dB before the level."""
        return (*self.base.parameter_names[:-1], "tilt_db", "level_db")

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return f"lopsided {self.base.name}"

    @property
    def family(self) -> str:
        """See Curve."""
        return self.base.family

    @property
    def holder(self) -> Curve:
        """See Curve."""
        return self.base.holder

    @property
    def leans(self) -> bool:
        """See Curve."""
        return True

    def level_db(self, parameters: Array, frequency_hz: Array) -> Array:
        """See Curve."""
        of_base = np.concatenate((parameters[..., :-2], parameters[..., -1:]), axis=-1)
        bend = self.bend(parameters, frequency_hz)
        return np.asarray(self.base.level_db(of_base, frequency_hz) + parameters[..., -2, None] * bend)

    def bend(self, parameters: Array, frequency_hz: Array) -> Array:
        """What a tilt of 1 dB adds to the level, shape (..., n); the base's parameters will do."""
        u, _ = detune(parameters, frequency_hz)
        return np.asarray(2.0 * u / (1.0 + u * u))

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        tilt = parameters[..., -2, None]
        of_base = np.concatenate((parameters[..., :-2], parameters[..., -1:]), axis=-1)
        level, jacobian = self.base.level_and_jacobian(of_base, frequency_hz)
        u, u_by_frequency = detune(parameters, frequency_hz)
        below = 1.0 / (1.0 + u * u)
        bend = 2.0 * u * below
        by_u = (2.0 * tilt) * (below - u * bend * below)
        wider = np.empty((*level.shape[:-1], parameters.shape[-1], level.shape[-1])).swapaxes(-1, -2)
        wider[..., :-2], wider[..., -2], wider[..., -1] = jacobian[..., :-1], bend, 1.0
        wider[..., 0] += by_u * u_by_frequency
        wider[..., 1] -= by_u * u
        return level + tilt * bend, wider


@dataclass(frozen=True)
class Sloped(Curve):
    """Another curve times (f / f0)^power: +1 or -1 where circuits are coupled by a capacitance or an inductance."""

    base: Curve
    power: int

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """The base's."""
        return self.base.parameter_names

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return f"{self.base.name} {'rising' if self.power > 0 else 'falling'} with frequency"

    @property
    def family(self) -> str:
        """See Curve."""
        return self.base.family

    @property
    def holder(self) -> Curve:
        """See Curve."""
        return Sloped(self.base.holder, self.power)

    @property
    def leans(self) -> bool:
        """See Curve."""
        return True

    @property
    def leaning(self) -> Curve:
        """See Curve."""
        return Sloped(self.base.leaning, self.power)

    def loaded_q(self, parameters: Array) -> tuple[float, Array] | None:
        """See Curve."""
        return self.base.loaded_q(parameters)

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        level, jacobian = self.base.level_and_jacobian(parameters, frequency_hz)
        f0 = parameters[..., 0, None]
        slope = 2.0 * DB_PER_NEPER_OF_POWER * self.power
        jacobian[..., 0] -= slope / f0
        return level + slope * np.log(frequency_hz / f0), jacobian


@dataclass(frozen=True)
class CoupledCans(Curve):
    """A pair of circuits tuned alike and coupled by a reactance: an inductance (power -1) or a capacitance (power +1).

    Nothing is out of tune, yet the curve leans. The coupling follows the frequency, and so do the widths of the two
    modes: with a mutual inductance both modes are as wide in Hz, where an even pair has both of one Q. To first order
    in W / f0 that is a skew of g = power (W / f0) (4 s - (1 - s)^2) / (2 (1 + s)).
    """

    power: int

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """Those of the symmetrical pair."""
        return SYMMETRICAL_PAIR.parameter_names

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return f"pair coupled by {'a capacitance' if self.power > 0 else 'an inductance'}"

    @property
    def family(self) -> str:
        """See Curve."""
        return SYMMETRICAL_PAIR.family

    @property
    def holder(self) -> Curve:
        """See Curve."""
        return self.leaning

    @property
    def leaning(self) -> Curve:
        """See Curve."""
        return Sloped(SKEWED_PAIR, self.power)

    def as_skewed(self, parameters: Array) -> tuple[Array, Array, Array]:
        """The same curve as a sloped skewed pair: its parameters, its skew and how that moves with the shape."""
        relative = self.power * np.exp(parameters[..., 1]) / parameters[..., 0]
        shape = parameters[..., 2]
        bend = 6.0 * shape - 1.0 - shape * shape
        skew = relative * bend / (2.0 * (1.0 + shape))
        by_shape = relative * ((6.0 - 2.0 * shape) * (1.0 + shape) - bend) / (2.0 * (1.0 + shape) ** 2)
        head, level = parameters[..., :3], parameters[..., 3:]
        return np.concatenate((head, skew[..., None], level), axis=-1), skew, by_shape

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        skewed, skew, by_shape = self.as_skewed(parameters)
        level, wide = Sloped(SKEWED_PAIR, self.power).level_and_jacobian(skewed, frequency_hz)
        by_skew = wide[..., 3]
        jacobian = np.concatenate((wide[..., :3], wide[..., 4:]), axis=-1)
        jacobian[..., 0] -= by_skew * (skew / parameters[..., 0])[..., None]
        jacobian[..., 1] += by_skew * skew[..., None]
        jacobian[..., 2] += by_skew * by_shape[..., None]
        return level, jacobian


SINGLE_CIRCUIT = EqualCircuits(1)
EQUAL_CIRCUITS = tuple(EqualCircuits(count) for count in range(1, 9))
SYMMETRICAL_PAIR = StaggeredCircuits(2)
SKEWED_PAIR = StaggeredCircuits(2, skewed=True)
STAGGERED_CIRCUITS = (StaggeredCircuits(3), StaggeredCircuits(4))
SKEWED_CIRCUITS = (StaggeredCircuits(3, skewed=True), StaggeredCircuits(4, skewed=True))

LIMITS_OF_PAIR: tuple[Curve, ...] = (*EQUAL_CIRCUITS[:2], SYMMETRICAL_PAIR, SKEWED_PAIR)
"""Kinds that the skewed pair can draw: with one of these true, the larger never disagrees, it is only less sure."""

COUPLED_CANS = (CoupledCans(-1), CoupledCans(1))
SKEWED_CANS = (Sloped(SKEWED_PAIR, -1), Sloped(SKEWED_PAIR, 1))
