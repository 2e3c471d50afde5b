"""Edge balance: hop the source between two edges of a circuit; the difference of levels is its signed detuning.

At the peak a meter's slope is zero, at the edges it is steepest: so the difference tells where the circuit stands, and
which way it is off, where a peak would hide it in the noise. It holds only where the circuit is the narrowest thing
before the detector; elsewhere a moving source shows the window, and step and fit is the way.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.responses.passband import Curve, PassbandFit
from sequences.numerics.wording import say_db, say_hz

SURE_SIGMAS = 2.0
DEEPEST_DB = 10.0
MOSTLY_THE_WINDOW = 0.4
UNEXPLAINED_LOSS_DB = 3.0
ALIASES_WITHIN = 4.0
"""Of the width: a circuit that is farther off is far too weak to be taken for a nearer one."""


@dataclass(frozen=True, slots=True)
class KnownCircuit:
    """A circuit whose curve has been fitted: its shape is known, and it is to be brought from where it is to a target.

    `centre_hz` and `width_hz` are those of `curve`; the shape is taken to keep as the circuit is tuned.
    """

    curve: Curve
    centre_hz: float
    width_hz: float
    target_hz: float

    def level_db(self, frequency_hz: Array, detuning_hz: Array | float) -> Array:
        """Give the level in dB with the circuit off its target by `detuning_hz`; the shapes broadcast."""
        at_hz = np.asarray(frequency_hz - self.target_hz - detuning_hz + self.centre_hz, dtype=np.float64)
        return np.asarray(self.curve.level_db(at_hz.ravel())).reshape(at_hz.shape)

    def was_read(self, frequency_hz: Array) -> NDArray[np.bool_]:
        """Tell where, on target, the curve rests on readings; both of shape (n,).

        Beyond its sweep a fit is merely continued, and jumps where one of the kinds that it averages has no level.
        """
        if not isinstance(self.curve, PassbandFit):
            return np.ones(frequency_hz.shape, dtype=np.bool_)
        at_hz = frequency_hz - self.target_hz + self.centre_hz
        return np.asarray((at_hz >= self.curve.span_hz[0]) & (at_hz <= self.curve.span_hz[1]))


@dataclass(frozen=True, slots=True)
class Window:
    """What the circuit is seen through: its 3 dB width, how surely it is centred on the target, its curve if known."""

    width_hz: float
    centre_sigma_hz: float = 0.0
    curve: Curve | None = None


@dataclass(frozen=True, slots=True)
class HopPoints:
    """The two source frequencies to hop between, and the dB of difference for each Hz of detuning at balance."""

    lower_hz: float
    upper_hz: float
    db_per_hz: float


@dataclass(frozen=True, slots=True)
class EdgeBalance:
    """One reading of both edges.

    `detuning_hz`: the circuit's centre minus its target, positive where it is high; None where it cannot be told.
    `difference_db`: upper edge minus lower edge, less what it would be at balance. `sense`: +1 where the circuit is
    surely high, -1 where surely low, 0 where neither is sure; it stands even where the detuning is too large to tell.
    """

    detuning_hz: Estimate | None
    difference_db: Estimate
    sense: int
    text: str
    doubts: tuple[Doubt, ...]


def even_noise_db(level_db: Array) -> Array:
    """Say that a level has the same noise in dB everywhere, as with a meter or detector whose gain fluctuates."""
    return np.ones_like(level_db)


def hop_points(circuit: KnownCircuit, noise_db: Callable[[Array], Array] = even_noise_db) -> HopPoints:
    """Choose the two frequencies at which the difference tells most about the detuning.

    For a single circuit with even noise in dB these are its 3 dB points.

    Args:
        circuit: The known circuit.
        noise_db: Gives the relative one-sigma noise of levels, both of shape (n,), in dB below the curve's top.
    """
    side_hz = circuit.width_hz * np.linspace(0.05, 2.5, 1600)
    step_hz = 1e-3 * circuit.width_hz
    lower_hz, upper_hz = circuit.target_hz - side_hz, circuit.target_hz + side_hz
    # Both edges' slopes by the detuning; the lower edge falls as the circuit moves up.
    lower_fall = (circuit.level_db(lower_hz, -step_hz) - circuit.level_db(lower_hz, step_hz)) / (2.0 * step_hz)
    upper_rise = (circuit.level_db(upper_hz, step_hz) - circuit.level_db(upper_hz, -step_hz)) / (2.0 * step_hz)
    lower_db, upper_db = circuit.level_db(lower_hz, 0.0), circuit.level_db(upper_hz, 0.0)
    top_db = max(float(lower_db.max()), float(upper_db.max()))
    lower_noise, upper_noise = noise_db(lower_db - top_db), noise_db(upper_db - top_db)
    worth = (lower_fall[:, None] + upper_rise[None, :]) / np.hypot(lower_noise[:, None], upper_noise[None, :])
    worth[lower_db < top_db - DEEPEST_DB, :] = -math.inf
    worth[:, upper_db < top_db - DEEPEST_DB] = -math.inf
    worth[~circuit.was_read(lower_hz), :] = -math.inf
    worth[:, ~circuit.was_read(upper_hz)] = -math.inf
    low, high = np.unravel_index(int(np.argmax(worth)), worth.shape)
    return HopPoints(float(lower_hz[low]), float(upper_hz[high]), float(lower_fall[low] + upper_rise[high]))


def window_share(circuit_width_hz: float, window_width_hz: float) -> float:
    """Tell how much of a window's own mistuning shows as the circuit's, for single circuits hopped at 3 dB.

    The slope of a single circuit x half-widths off is 2 x / (1 + x^2) times that at its own 3 dB point; with the
    window's half-width for the unit, x is the ratio of the widths, and the slopes compare as 2 x^2 / (1 + x^2).
    A flat-topped window shows less, as long as it is wider than the circuit.
    """
    ratio = circuit_width_hz / window_width_hz
    return 2.0 * ratio**2 / (1.0 + ratio**2)


def judge_window(circuit_width_hz: float, window_width_hz: float) -> Doubt | None:
    """Refuse edge balance where the circuit is not the narrowest thing before the detector."""
    if circuit_width_hz < window_width_hz:
        return None
    text = (
        f"The circuit is {say_hz(circuit_width_hz)} wide but is seen through a window of {say_hz(window_width_hz)}: "
        "moving the source shows the window, not the circuit; turn by equal nudges and fit the level instead."
    )
    return Doubt(DoubtName.NOT_NARROWEST, text)


def read_edges(
    circuit: KnownCircuit, points: HopPoints, lower_db: Estimate, upper_db: Estimate, window: Window | None = None
) -> EdgeBalance:
    """Turn the levels at the two hop points into a signed detuning.

    Args:
        circuit: The known circuit.
        points: The two frequencies, from `hop_points` or near them.
        lower_db: Level at the lower one; averaged readings in turn, so that a slow drift cancels.
        upper_db: Level at the upper one.
        window: What the circuit is seen through. Without it the caller vouches that nothing narrower follows.
    """
    edges_hz = np.array([points.lower_hz, points.upper_hz])
    measured_db = upper_db.value - lower_db.value
    if window is not None and window.curve is not None:
        measured_db -= float(np.diff(window.curve.level_db(edges_hz))[0])
    balance_db = float(np.diff(circuit.level_db(edges_hz, 0.0))[0])
    difference = Estimate(measured_db - balance_db, math.hypot(lower_db.sigma, upper_db.sigma))
    sense = int(np.sign(difference.value)) if abs(difference.value) > SURE_SIGMAS * difference.sigma else 0
    refusal = judge_window(circuit.width_hz, window.width_hz) if window is not None else None
    if refusal is not None:
        return EdgeBalance(None, difference, 0, refusal.text, (refusal,))
    if not math.isfinite(difference.value):
        text = "A level at an edge is not a number; read both edges again."
        return EdgeBalance(None, difference, 0, text, (Doubt(DoubtName.NOT_A_NUMBER, text),))
    detuning = _solve(circuit, edges_hz, difference)
    if detuning is None or _too_weak(circuit, edges_hz, detuning.value, (lower_db, upper_db)):
        return _off_the_curve(circuit, difference, sense)
    detuning, doubts = _with_window(circuit, detuning, window)
    return EdgeBalance(detuning, difference, sense, _say(detuning), doubts)


def _solve(circuit: KnownCircuit, edges_hz: Array, difference: Estimate) -> Estimate | None:
    """Invert the difference over the stretch about balance on which it rises with the detuning."""
    reach_hz = np.linspace(0.0, float(np.ptp(edges_hz)), 200)

    def excess_db(detuning_hz: Array) -> Array:
        levels = circuit.level_db(edges_hz[:, None], detuning_hz[None, :])
        balance = circuit.level_db(edges_hz, 0.0)
        return np.asarray(levels[1] - levels[0] - (balance[1] - balance[0]))

    highest, lowest = _where_it_turns(excess_db(reach_hz)), _where_it_turns(-excess_db(-reach_hz))
    ends_hz = (-float(reach_hz[lowest]), float(reach_hz[highest]))
    low_db, high_db = (float(value) for value in excess_db(np.array(ends_hz)))

    def detuning_of(wanted_db: float) -> float:
        if not low_db < wanted_db < high_db:
            return ends_hz[0] if wanted_db <= low_db else ends_hz[1]
        return float(scipy.optimize.brentq(lambda e: float(excess_db(np.array([e]))[0]) - wanted_db, *ends_hz))

    if not low_db < difference.value < high_db:
        return None
    nearer_db, further_db = difference.value - difference.sigma, difference.value + difference.sigma
    # The slope is taken over the noise's reach, clipped to the rising stretch, so that its flat end is not believed.
    reach_db = min(further_db, high_db) - max(nearer_db, low_db)
    reach = (detuning_of(further_db) - detuning_of(nearer_db)) / max(reach_db, 1e-12)
    if difference.sigma == 0.0:
        reach = 0.0
    return Estimate(detuning_of(difference.value), difference.sigma * reach)


def _where_it_turns(rising: Array) -> int:
    falls = np.flatnonzero(np.diff(rising) <= 0.0)
    return int(falls[0]) if len(falls) else len(rising) - 1


def _too_weak(circuit: KnownCircuit, edges_hz: Array, detuning_hz: float, levels: tuple[Estimate, Estimate]) -> bool:
    """Tell whether both edges read lower than the curve allows: then the circuit may be off beyond its own edges.

    For each difference there are two detunings, one on either side of where the difference is largest (for a single
    circuit hopped at 3 dB their product is half the width squared). The farther one reads lower on both edges: what is
    not surely nearer to the levels of the nearer one is not told.
    """
    measured_db = 0.5 * (levels[0].value + levels[1].value)
    noise_db = 0.5 * math.hypot(levels[0].sigma, levels[1].sigma)
    loss_db = float(circuit.level_db(edges_hz, detuning_hz).mean()) - measured_db
    alias_hz = _alias_hz(circuit, edges_hz, detuning_hz)
    if alias_hz is None:
        return loss_db > UNEXPLAINED_LOSS_DB
    apart_db = float(circuit.level_db(edges_hz, detuning_hz).mean() - circuit.level_db(edges_hz, alias_hz).mean())
    return loss_db > min(UNEXPLAINED_LOSS_DB, 0.5 * apart_db - SURE_SIGMAS * noise_db)


def _alias_hz(circuit: KnownCircuit, edges_hz: Array, detuning_hz: float) -> float | None:
    """Find the other detuning, farther out, at which the edges differ as much; None where there is none in reach."""
    side = math.copysign(1.0, detuning_hz)
    out_hz = side * np.linspace(abs(detuning_hz), ALIASES_WITHIN * circuit.width_hz, 400)[1:]
    levels = circuit.level_db(edges_hz[:, None], out_hz[None, :])
    here = circuit.level_db(edges_hz, detuning_hz)
    excess_db = side * (levels[1] - levels[0] - (here[1] - here[0]))
    turned = np.flatnonzero((excess_db <= 0.0) & (np.maximum.accumulate(excess_db) > 0.0))
    if len(turned):
        return float(out_hz[turned[0]])
    return float(out_hz[0]) if excess_db[0] <= 0.0 else None


def _off_the_curve(circuit: KnownCircuit, difference: Estimate, sense: int) -> EdgeBalance:
    way = {1: "high", -1: "low", 0: "high or low"}[sense]
    text = (
        f"The circuit is {way} by more than its edges can tell, about {say_hz(0.5 * circuit.width_hz)}, or its gain "
        f"has changed: the edges differ by {say_db(abs(difference.value))}; bring it nearer and read the edges again."
    )
    return EdgeBalance(None, difference, sense, text, (Doubt(DoubtName.OFF_THE_CURVE, text),))


def _with_window(
    circuit: KnownCircuit, detuning: Estimate, window: Window | None
) -> tuple[Estimate, tuple[Doubt, ...]]:
    """Carry the window's own uncertainty of centre into the detuning, where its curve was not taken off."""
    if window is None or window.curve is not None:
        return detuning, ()
    share = window_share(circuit.width_hz, window.width_hz)
    widened = Estimate(detuning.value, math.hypot(detuning.sigma, share * window.centre_sigma_hz))
    if share <= MOSTLY_THE_WINDOW:
        return widened, ()
    text = (
        f"The window of {say_hz(window.width_hz)} is not much wider than the circuit's {say_hz(circuit.width_hz)}: "
        f"{100.0 * share:.0f} % of any mistuning of the window shows as the circuit's."
    )
    return widened, (Doubt(DoubtName.NOT_NARROWEST, text),)


def _say(detuning: Estimate) -> str:
    if abs(detuning.value) <= SURE_SIGMAS * detuning.sigma:
        return f"The circuit is on its frequency to within {say_hz(max(abs(detuning.value), detuning.sigma))}."
    way = "high" if detuning.value > 0.0 else "low"
    return f"The circuit is {say_hz.known_to(Estimate(abs(detuning.value), detuning.sigma))} too {way}."
