"""Two slugs that pull on each other: which one to turn next, how far, and when to stop.

The person turns one slug at a time. First each is stepped through its own peak; then one surface is fitted to every
reading so far and the next turn goes where it says, or where one more reading tells most. The surface is that of two
coupled circuits at one frequency, with u and v the detunings of the two in half-widths:

    level = L - 10 log10(((1 + q - u v)^2 + (u + v)^2) / (1 + q)^2),  q = (kQ)^2,  u = (x - x0) / w,  v = (y - y0) / z

(Aiken, Two-Mesh Tuned Coupled Circuit Filters, Proc. IRE 25, 1937, from memory). It has no more unknowns than a
parabola in two directions, and holds far from the peak as well. Over q = 1 it has two humps, and is not to be peaked;
but x0 and y0 are the middle between them, so that it can be balanced by the same readings.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from sequences.numerics.adjusters.step_and_fit import LEAST_POSITIONS, fit_steps
from sequences.numerics.arrays import Array
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.least_squares import Solution, inverse_information, least_squares
from sequences.numerics.wording import say_db

DB_PER_E = 10.0 / math.log(10.0)
USUAL_Q = 0.5
Q_SPREAD = 2.0
WIDEST_LOG_WIDTH = 8.0
STIFF = 1e3
SURE_SIGMAS = 3.0
EXCLUDED = 12.0
FINEST_TURN = 0.25
NEAR_ENOUGH_NUDGES = 1.0
LONGEST_TURN_NUDGES = 6.0
MOST_SCATTER = 6.0
DIP_TO_NAME_DB = 0.1


class Slug(StrEnum):
    """Which of the two."""

    FIRST = "first"
    SECOND = "second"


@dataclass(frozen=True, slots=True)
class SlugReading:
    """The level with both slugs at these positions, in nudges from where they stood at the start."""

    first: float
    second: float
    level_db: float


@dataclass(frozen=True, slots=True)
class SlugGoal:
    """How well the slugs are to be set, in nudges; the noise of a level; how far and how often they may be turned.

    `same_sense`: whether both circuits' frequencies move the same way as positions are counted up; None where that is
    not known, which takes more readings and may let a hump of an over-coupled pair pass for its middle.
    `balance`: set an over-coupled pair to the middle between its humps, where it would otherwise be refused.
    """

    sigma_db: float
    tolerance_nudges: float = 0.25
    most_nudges: float = 12.0
    budget: int = 40
    same_sense: bool | None = True
    balance: bool = False


@dataclass(frozen=True, slots=True)
class Turn:
    """Turn one slug by so many nudges to a position, then read the level."""

    slug: Slug
    by_nudges: float
    to_nudges: float
    text: str


@dataclass(frozen=True, slots=True)
class Settled:
    """Neither slug needs to move by more than its tolerance: where the peak is, and the gain since the start.

    Of an over-coupled pair the peak is the middle between its humps. `left_db`: how far the level there is above the
    one where the slugs stand; `coupling`: kQ; `half_widths`: how many nudges of each slug make one half-width.
    """

    first: Estimate
    second: Estimate
    gain_db: Estimate
    left_db: Estimate
    coupling: Estimate
    half_widths: tuple[float, float]
    text: str

    @property
    def dip_db(self) -> Estimate:
        """Give how far the level in the middle lies below the humps."""
        return dip_of(self.coupling)


def dip_of(coupling: Estimate) -> Estimate:
    """Give how far the middle of two equal circuits lies below their humps: 10 log10((1 + q)^2 / 4q), 0 to critical."""
    at = max(coupling.value, 1.0 + 2.0 * coupling.sigma)
    return Estimate(dip_between_humps(coupling.value), _dip_slope(at) * coupling.sigma)


def dip_between_humps(coupling: float) -> float:
    """Give how far the middle of two equal circuits lies below their humps, in dB, at a coupling kQ."""
    q = max(coupling, 1.0) ** 2
    return DB_PER_E * math.log((1.0 + q) ** 2 / (4.0 * q))


def _dip_slope(coupling: float) -> float:
    q = coupling**2
    return DB_PER_E * (2.0 / (1.0 + q) - 1.0 / q) * 2.0 * coupling


@dataclass(frozen=True, slots=True)
class NotSettled:
    """The two cannot be peaked so; the doubt says why and what to do."""

    doubt: Doubt


Decision = Turn | Settled | NotSettled


def next_turn(goal: SlugGoal, readings: Sequence[SlugReading]) -> Decision:
    """Decide the next turn from the readings so far, in the order taken, the first at the start position (0, 0).

    Raises:
        ValueError: where there is no reading yet, or one is not a number.
    """
    if not readings:
        raise ValueError("Two slugs are set from a first reading with both where they stand.")
    if not all(math.isfinite(value) for each in readings for value in (each.first, each.second, each.level_db)):
        raise ValueError("A position or a level of the two slugs is not a number; read that level again.")
    turn_first, peak = _walk(goal, readings, Slug.FIRST, readings[0].second)
    if turn_first is not None:
        return turn_first
    second_moved = [each for each in readings if each.second != readings[0].second]
    if not second_moved and abs(readings[-1].first - peak) > NEAR_ENOUGH_NUDGES:
        return _turn(goal, readings[-1], Slug.FIRST, peak, "to its peak so far")
    column = second_moved[0].first if second_moved else readings[-1].first
    turn_second, _ = _walk(goal, readings, Slug.SECOND, column)
    return turn_second if turn_second is not None else _Surface(goal, readings).decide()


def _walk(
    goal: SlugGoal, readings: Sequence[SlugReading], slug: Slug, other_at: float
) -> tuple[Turn | NotSettled | None, float]:
    """Step one slug through its peak, the other standing still; None and the place of the peak once it is passed."""
    line = [each for each in readings if _position(each, _other(slug)) == other_at]
    x = np.array([_position(each, slug) for each in line])
    level = np.array([each.level_db for each in line])
    best = float(x[np.argmax(level)])
    count = len(np.unique(x))
    if count >= LEAST_POSITIONS:
        fit = fit_steps(x, level, goal.sigma_db)
        if fit.peak_position is not None:
            return None, fit.peak_position.value
        name = fit.doubts[0].name
        if name is DoubtName.POOR_FIT and x.min() < best < x.max():
            return None, best
        if name is DoubtName.NO_RISE:
            return _step_on(goal, readings[-1], slug, x, level, stride=2.0), best
    return _step_on(goal, readings[-1], slug, x, level, stride=1.0), best


def _step_on(
    goal: SlugGoal, now: SlugReading, slug: Slug, x: Array, level: Array, *, stride: float
) -> Turn | NotSettled:
    """Extend the positions tried beyond the end that reads higher; by more where nothing has shown yet."""
    low_end, high_end = float(level[np.argmin(x)]), float(level[np.argmax(x)])
    upwards = len(x) == 1 or high_end >= low_end
    to = float(x.max()) + stride if upwards else float(x.min()) - stride
    if abs(to) <= goal.most_nudges:
        return _turn(goal, now, slug, to, "through its peak")
    if stride > 1.0:
        text = (
            f"The {slug} slug was turned over {np.ptp(x):g} nudges and the level moved by no more than its noise; "
            "it may be seized or broken, or not belong to this circuit."
        )
        return NotSettled(Doubt(DoubtName.NO_RISE, text))
    return NotSettled(_beyond_travel(goal, slug))


def _beyond_travel(goal: SlugGoal, slug: Slug) -> Doubt:
    text = (
        f"The peak of the {slug} slug lies beyond {goal.most_nudges:g} nudges from where it stood; "
        "its circuit is far off: suspect a part, or allow more travel."
    )
    return Doubt(DoubtName.NOT_BRACKETED, text)


def _turn(goal: SlugGoal, now: SlugReading, slug: Slug, to: float, why: str) -> Turn:
    finest = min(FINEST_TURN, goal.tolerance_nudges)
    to = round(to / finest) * finest
    by = to - _position(now, slug)
    way = "on" if by > 0.0 else "back"
    return Turn(slug, by, to, f"Turn the {slug} slug {way} by {abs(by):g} nudges, {why}.")


def _say_gain(gain_db: float) -> str:
    return f"{say_db(abs(gain_db))} {'up on' if gain_db >= 0.0 else 'down on'}"


def _position(reading: SlugReading, slug: Slug) -> float:
    return reading.first if slug is Slug.FIRST else reading.second


def _other(slug: Slug) -> Slug:
    return Slug.SECOND if slug is Slug.FIRST else Slug.FIRST


@dataclass(frozen=True, slots=True)
class _Fit:
    solution: Solution
    sense: float

    @property
    def peak(self) -> Array:
        return self.solution.parameters[1:3]

    @property
    def q(self) -> float:
        return float(self.solution.parameters[5])


def _likeliest(fits: Sequence[_Fit]) -> _Fit:
    return min(fits, key=lambda fit: fit.solution.cost)


class _Surface:
    """The surface fitted to every reading. Parameters: L, x0, y0, log w, log z, q; a sense of -1 mirrors y.

    The surface bends too much for a covariance to be trusted, so the peak's uncertainty is found by holding it to one
    side and fitting the rest again: what that costs tells how sure it is (profile likelihood). A surface that puts the
    peak elsewhere, such as the hump of an over-coupled pair for its middle, must be excluded as well.
    """

    def __init__(self, goal: SlugGoal, readings: Sequence[SlugReading]) -> None:
        self.goal, self.readings = goal, readings
        self.x = np.array([each.first for each in readings])
        self.y = np.array([each.second for each in readings])
        self.level = np.array([each.level_db for each in readings])
        self.free_fits = self._fits(None)
        self.best = _likeliest(self.free_fits)
        freedom = max(len(readings) - len(self.best.solution.parameters), 1)
        # Backlash and unequal nudges show as scatter beyond the meter's noise, and count as noise.
        self.scatter = max(1.0, math.sqrt(self.best.solution.cost / freedom))

    def decide(self) -> Decision:
        refusal = self._refusal()
        if refusal is not None:
            return NotSettled(refusal)
        sigma, rival = self._rivals()
        tolerance = self.goal.tolerance_nudges
        spent = len(self.readings) >= self.goal.budget
        if sigma.max() > tolerance:
            return self._out_of_readings(sigma) if spent else self._most_telling(rival)
        if np.abs(self.best.peak).max() > self.goal.most_nudges:
            beyond = Slug.FIRST if abs(self.best.peak[0]) > self.goal.most_nudges else Slug.SECOND
            return NotSettled(_beyond_travel(self.goal, beyond))
        off = np.abs(self.best.peak - np.array([self.x[-1], self.y[-1]]))
        if off.max() <= tolerance:
            return self._settled(sigma)
        slug = Slug.FIRST if off[0] > tolerance else Slug.SECOND
        to = float(self.best.peak[0 if slug is Slug.FIRST else 1])
        return _turn(self.goal, self.readings[-1], slug, to, "to where all readings together put the peak")

    def _rivals(self) -> tuple[Array, _Fit]:
        """Give the one-sigma of the peak's two positions, and of the surfaces with another peak the likeliest."""
        aside = 2.0 * self.goal.tolerance_nudges
        sigma, rivals = np.zeros(2), []
        for axis in (0, 1):
            for way in (-aside, aside):
                rival = _likeliest(self._fits((axis, float(self.best.peak[axis]) + way)))
                worse = max(rival.solution.cost - self.best.solution.cost, 1e-3) / self.scatter**2
                sigma[axis] = max(sigma[axis], aside / math.sqrt(worse))
                rivals.append(rival)
        elsewhere = [fit for fit in self.free_fits if np.abs(fit.peak - self.best.peak).max() > aside]
        if elsewhere:
            rival = _likeliest(elsewhere)
            if rival.solution.cost - self.best.solution.cost < EXCLUDED * self.scatter**2:
                return np.maximum(sigma, np.abs(rival.peak - self.best.peak)), rival
        return sigma, _likeliest(rivals)

    def _fits(self, held: tuple[int, float] | None) -> list[_Fit]:
        """Fit every kind of surface, the peak held on one axis or free, from every kind of start."""
        senses = {True: (1.0,), False: (-1.0,), None: (1.0, -1.0)}[self.goal.same_sense]
        # An over-coupled surface's middle lies about a half-width from the hump that reads best, on either side.
        starts = ((0.1, 0.0), (0.8, 0.0), (2.0, 1.0), (2.0, -1.0), (3.0, 2.0), (3.0, -2.0))
        return [_Fit(self._fit_from(sense, q, aside, held), sense) for sense in senses for q, aside in starts]

    def _fit_from(self, sense: float, q: float, aside: float, held: tuple[int, float] | None) -> Solution:
        best = int(np.argmax(self.level))
        width = max(2.0, 0.25 * float(np.ptp(self.x) + np.ptp(self.y)))
        x0, y0 = self.x[best] + aside * width, self.y[best] + sense * aside * width
        start = np.array([self.level[best], x0, y0, math.log(width), math.log(width), q])
        # One faint row keeps the coupling near what cans have until the readings tell; a stiff one holds the peak.
        extra = np.zeros((1 if held is None else 2, 6))
        extra[0, 5] = 1.0 / Q_SPREAD
        wanted = [USUAL_Q / Q_SPREAD]
        if held is not None:
            start[1 + held[0]] = held[1]
            extra[1, 1 + held[0]] = STIFF
            wanted.append(STIFF * held[1])

        def residual(parameters: Array) -> tuple[Array, Array]:
            model, slope = self._model(parameters, self.x, self.y, sense)
            misfit = np.append((model - self.level) / self.goal.sigma_db, extra @ parameters - wanted)
            return misfit, np.vstack((slope / self.goal.sigma_db, extra))

        return least_squares(residual, start, tolerance=1e-4, max_steps=60)

    @staticmethod
    def _model(parameters: Array, x: Array, y: Array, sense: float) -> tuple[Array, Array]:
        """Give the level, shape (n,), and its derivative by the parameters, shape (n, 6); NaN where there is none."""
        level, x0, y0, log_w, log_z, q = parameters
        if q <= -1.0 or max(abs(log_w), abs(log_z)) > WIDEST_LOG_WIDTH:
            return np.full(len(x), np.nan), np.full((len(x), 6), np.nan)
        w, z = math.exp(log_w), sense * math.exp(log_z)
        u, v = (x - x0) / w, (y - y0) / z
        real, imaginary = 1.0 + q - u * v, u + v
        size = real**2 + imaginary**2
        by_u = -2.0 * DB_PER_E * (imaginary - real * v) / size
        by_v = -2.0 * DB_PER_E * (imaginary - real * u) / size
        by_q = 2.0 * DB_PER_E * (1.0 / (1.0 + q) - real / size)
        slope = np.column_stack((np.ones(len(x)), -by_u / w, -by_v / z, -by_u * u, -by_v * v, by_q))
        return level - DB_PER_E * np.log(size / (1.0 + q) ** 2), slope

    def _covariance(self) -> Array:
        return inverse_information(self.best.solution.jacobian) * self.scatter**2

    def _refusal(self) -> Doubt | None:
        q, q_sigma = self.best.q, math.sqrt(float(self._covariance()[5, 5]))
        if not self.goal.balance and q - SURE_SIGMAS * q_sigma > 1.0:
            text = (
                f"The two circuits are over-coupled (kQ about {math.sqrt(q):.1f}): there are two humps, and the meter "
                "would end on one; damp the winding not being turned and peak the other, in turn, or balance the humps."
            )
            return Doubt(DoubtName.OVER_COUPLED, text)
        if self.scatter > MOST_SCATTER:
            text = (
                f"The levels miss any two circuits' surface by {say_db(self.scatter * self.goal.sigma_db)}; a slug "
                "slips, the nudges were unequal, or the level drifts: start again."
            )
            return Doubt(DoubtName.POOR_FIT, text)
        return None

    def _most_telling(self, rival: _Fit) -> Turn:
        """Choose the turn of one slug at which the best surface and its rival differ most (T-optimal design)."""
        candidates = self._candidates()
        x = np.array([to if slug is Slug.FIRST else self.x[-1] for slug, to in candidates])
        y = np.array([to if slug is Slug.SECOND else self.y[-1] for slug, to in candidates])
        ours = self._model(self.best.solution.parameters, x, y, self.best.sense)[0]
        theirs = self._model(rival.solution.parameters, x, y, rival.sense)[0]
        slug, to = candidates[int(np.argmax(np.abs(ours - theirs)))]
        return _turn(self.goal, self.readings[-1], slug, to, "where its level tells most")

    def _candidates(self) -> list[tuple[Slug, float]]:
        _, x0, y0, log_w, log_z, _ = self.best.solution.parameters
        limit, longest = self.goal.most_nudges, LONGEST_TURN_NUDGES
        wanted = []
        for slug, peak, width, now in (
            (Slug.FIRST, x0, math.exp(log_w), self.x[-1]),
            (Slug.SECOND, y0, math.exp(log_z), self.y[-1]),
        ):
            for half_widths in (-1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5):
                to = float(np.clip(peak + half_widths * width, now - longest, now + longest))
                to = float(np.clip(to, -limit, limit))
                if abs(to - now) >= FINEST_TURN:
                    wanted.append((slug, to))
        return wanted

    def _settled(self, sigma: Array) -> Settled:
        ends = (self.x[[0, -1]], self.y[[0, -1]])
        level, slope = self._model(self.best.solution.parameters, *ends, self.best.sense)
        change = slope[1] - slope[0]
        covariance = self._covariance()
        variance = float(change @ covariance @ change) if np.isfinite(covariance).all() else math.inf
        gain = Estimate(float(level[1] - level[0]), math.sqrt(variance))
        q_sigma = math.sqrt(float(covariance[5, 5])) if np.isfinite(covariance).all() else math.inf
        coupling = math.sqrt(max(self.best.q, 0.0))
        over = dip_between_humps(coupling) > DIP_TO_NAME_DB
        where = "in the middle between the humps" if over else "on their peak"
        text = (
            f"Both slugs stand {where} to within {self.goal.tolerance_nudges:g} of a nudge, "
            f"{_say_gain(gain.value)} the start: leave them there."
        )
        first, second = (Estimate(float(self.best.peak[axis]), float(sigma[axis])) for axis in (0, 1))
        return Settled(
            first=first,
            second=second,
            gain_db=gain,
            left_db=self._left_db(sigma),
            coupling=Estimate(coupling, q_sigma / (2.0 * max(coupling, 0.5))),
            half_widths=(math.exp(self.best.solution.parameters[3]), math.exp(self.best.solution.parameters[4])),
            text=text,
        )

    def _left_db(self, sigma: Array) -> Estimate:
        """Give what the middle has over where the slugs stand; its uncertainty, from the middle's two positions."""
        parameters = self.best.solution.parameters
        off = np.array([self.x[-1], self.y[-1]]) - self.best.peak
        aside = np.array([[0.0, 0.0], [sigma[0], 0.0], [-sigma[0], 0.0], [0.0, sigma[1]], [0.0, -sigma[1]]]) + off
        at = aside + self.best.peak
        level, _ = self._model(parameters, at[:, 0], at[:, 1], self.best.sense)
        left = float(parameters[0]) - level
        unsure = [float(np.abs(left[pair] - left[0]).max()) for pair in ([1, 2], [3, 4])]
        return Estimate(float(left[0]), math.hypot(*unsure))

    def _out_of_readings(self, sigma: Array) -> NotSettled:
        text = (
            f"After {len(self.readings)} readings the slugs' peak is still uncertain by {sigma.max():.2f} of a nudge; "
            "average more at each position, or accept a wider tolerance."
        )
        return NotSettled(Doubt(DoubtName.UNCERTAIN, text))
