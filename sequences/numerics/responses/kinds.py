"""Every kind of curve fitted to the same readings, cheaply: each from a good start, and none that has no chance."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses import starts
from sequences.numerics.responses.candidates import (
    FINEST_NOISE_DB,
    PLAIN,
    Candidate,
    best_of,
    fit_curve,
    has_structure,
    least_gain,
    significance,
)
from sequences.numerics.responses.curves import (
    COUPLED_CANS,
    DB_PER_NEPER_OF_POWER,
    EQUAL_CIRCUITS,
    LIMITS_OF_PAIR,
    SINGLE_CIRCUIT,
    SKEWED_CANS,
    SKEWED_CIRCUITS,
    SKEWED_PAIR,
    STAGGERED_CIRCUITS,
    SYMMETRICAL_PAIR,
    Curve,
    EqualCircuits,
    Sloped,
    StaggeredCircuits,
)
from sequences.numerics.responses.flat_top import FLAT_TOPS, FlatTop
from sequences.numerics.responses.linear_starts import MOST_CIRCUITS, LinearStarts
from sequences.numerics.responses.readings import Readings
from sequences.numerics.responses.registry import KINDS
from sequences.numerics.responses.time_order import Effects

_HOPELESS = 60.0
"""A kind whose score is worse by this much is not worth a neighbour's try."""

_FAR_ABOVE_NOISE = 30.0
_ABOVE_NOISE = 4.0
_SURELY = 2.0
"""The bound holds but for what noise does to the logarithm, which is far less than this."""

_SURELY_LEANS = 2.0
_WORSE = 6.0
_NEAR_MISS_DB = 0.5
_OPEN_SIGMAS = 3.5
_OPEN_SLOPE = 0.5
_LESS_USUAL = 2.0
_NOTHING_SIGMAS = 1.0
_START_ALLOWANCE = 4.0
_CLOSE_START_DB = 0.3

# Width at 10 dB over width at 3 dB: a single circuit has 3, any cascade more than 1.82, a critical pair 1.73, flat tops
# of three poles and more less than 1.5. The bounds leave room for what noise does to the widths by eye.
_STEEPER_THAN_CASCADES = 1.5
_ROUNDER_THAN_FLAT_TOPS = 2.1
_STEEPNESS_BLURRED_DB = 0.8

# The same in terms of the shape of a symmetrical pair, whose 10 dB width falls as the shape grows: two equal circuits
# are one with 0.172; three fall from their top as a pair of 0.22 does, and the limit of many cascaded ones is as
# wide at 10 dB as a pair of 0.74; the roundest flat top of three poles is as wide there as a pair of 1.29.
_SHAPE_NEAR_TWO = (0.16, 0.18)
_SHAPE_LIKE_THREE = 0.21
_SHAPE_LIKE_MANY = 0.74
_SHAPE_LIKE_POLES = 1.2
_SURELY_SIGMAS = 5.0
_FEW_READINGS = 40
"""Fewer stand too far apart to show their noise, and whatever comes near seems to explain them."""

_MORE_THAN_NOISE_DB = 0.1


def fit_kinds(readings: Readings, rough: starts.Outline, effects: Effects = PLAIN) -> list[Candidate]:
    """Fit every kind that has a chance, in no particular order."""
    begin = LinearStarts(rough)
    if effects == PLAIN:
        sparing = _Fitter(readings, rough, effects, begin, sparing=True)
        sparing.all_kinds()
        if not sparing.spared or (sparing.found and sparing.explains(best_of(sparing.found))):
            return sparing.found
    fit = _Fitter(readings, rough, effects, begin)
    fit.all_kinds()
    return fit.found


def _with_nought(parameters: Array, index: int) -> Array:
    return np.concatenate((parameters[:index], [0.0], parameters[index:]))


def _without(parameters: Array, index: int) -> Array:
    return np.concatenate((parameters[:index], parameters[index + 1 :]))


class _Fitter:
    """Fits kind after kind to the same readings; what has been found tells what has no chance any more.

    Where it is sparing it does not fit what linear algebra rules out beforehand, as if some kind would explain the
    readings down to their noise; `spared` says that it made use of that.
    """

    def __init__(
        self, readings: Readings, rough: starts.Outline, effects: Effects, begin: LinearStarts, *, sparing: bool = False
    ) -> None:
        self.readings, self.rough, self.effects, self.begin = readings, rough, effects, begin
        self.sparing, self.spared = sparing, False
        self.found: list[Candidate] = []
        self.few = len(readings) < _FEW_READINGS
        above_noise = _ABOVE_NOISE if sparing else _FAR_ABOVE_NOISE
        self.least_cost = len(readings) * above_noise * (rough.noise_db**2 + FINEST_NOISE_DB**2)
        steepness = rough.steepness if rough.noise_db < _STEEPNESS_BLURRED_DB else None
        steep = steepness is not None and steepness <= _STEEPER_THAN_CASCADES
        self.cascades_possible = () if steep else EQUAL_CIRCUITS[1:]
        self.like_two: Array | None = None
        self.flat_tops_possible = steepness is None or steepness < _ROUNDER_THAN_FLAT_TOPS

    def all_kinds(self) -> None:
        """Fit what has a chance."""
        self.circuits_and_pairs()
        self.cans()
        self.cascades()
        self.flat_tops()
        self.staggered_circuits()
        self.other_kinds()

    def other_kinds(self) -> None:
        """The kinds of the registry that give starts of their own."""
        for curve in KINDS:
            given = list(curve.starts(self.rough))
            if given:
                self.fit(curve, self._likeliest(curve, given))

    def ruled_out(self, least_cost: float) -> bool:
        """Whether a kind that cannot leave over less than this need not be tried."""
        if not (self.sparing and least_cost > _SURELY * self.hopeless):
            return False
        self.spared = True
        return True

    @property
    def hopeless(self) -> float:
        """Weighted sum of squares above which a kind has no chance."""
        return self.least_cost * math.exp(_HOPELESS / len(self.readings))

    def fit(self, curve: Curve, start: Array, handicap: float = 0.0, *, near: bool = False) -> Candidate:
        one = fit_curve(curve, self.readings, start, effects=self.effects, hopeless=self.hopeless, near=near)
        one = one.less_likely(handicap) if handicap else one
        if math.isfinite(one.cost):
            self.least_cost = min(self.least_cost, one.cost + FINEST_NOISE_DB**2 * len(self.readings))
            self.found.append(one)
        return one

    def circuits_and_pairs(self) -> None:
        """One circuit; the symmetrical pair and the skewed one, from the kind before if that explains the readings."""
        if not self.ruled_out(self.begin.least_cost(1)):
            single = self.fit(SINGLE_CIRCUIT, self.begin.equal_circuits(1))
            if self.explains(single):
                even = self._extended(single, SYMMETRICAL_PAIR, 2)
                self._extended(even, SKEWED_PAIR, 3)
                return
        least_cost = self.begin.least_cost(2)
        if self._near_miss(least_cost) or not self.ruled_out(least_cost):
            self.pairs()

    def pairs(self) -> None:
        """The skewed pair and the symmetrical one; the latter from the former if that explains the readings."""
        start = self.begin.pair()
        skewed = self.fit(SKEWED_PAIR, start)
        if self.explains(skewed):
            self._note_pair(skewed)
            if self._surely_leans(skewed):
                self.cascades_possible, self.flat_tops_possible = (), False
                return
            even = self.fit(SYMMETRICAL_PAIR, _without(skewed.parameters, 3), near=True)
            self.like_two = even.parameters[[0, 1, -1]]
            return
        even = self.fit(SYMMETRICAL_PAIR, _without(start, 3))
        explains = self.explains(even)
        if explains:
            self._note_pair(even)
            self.like_two = even.parameters[[0, 1, -1]]
            self.found = [one for one in self.found if one is not skewed]
        if explains or not skewed.cost <= even.cost:
            self.fit(SKEWED_PAIR, _with_nought(even.parameters, 3), near=explains)

    def _surely_leans(self, skewed: Candidate) -> bool:
        """Whether no even kind comes near the readings, as the skew of a pair that explains them says."""
        freedom = max(skewed.freedom, 1)
        rise = float(skewed.parameters[3]) ** 2 / (float(skewed.covariance[3, 3]) * freedom)
        return self.ruled_out(skewed.cost * (1.0 + rise) / _SURELY_LEANS)

    def cans(self) -> None:
        """Pairs coupled by a reactance, where the readings ask for the slope of that or leave it open."""
        lead = self._lead_of_cans()
        if lead is None:
            return
        start = lead.parameters if lead.curve == SYMMETRICAL_PAIR else _without(lead.parameters, 3)
        slope, sigma = significance(lead, self.readings, self._rise(lead))
        for cans, skewed in zip(COUPLED_CANS, SKEWED_CANS, strict=True):
            if abs(slope - cans.power) < max(_OPEN_SIGMAS * sigma, _OPEN_SLOPE):
                one = self.fit(cans, start, _LESS_USUAL)
                self._larger(one, skewed, cans.as_skewed(one.parameters)[0], 3, _LESS_USUAL)

    def _lead_of_cans(self) -> Candidate | None:
        """The pair that tells whether a slope is open: an even one that is not far off, unless only a skew explains."""
        best = best_of(self.found) if self.found else None
        if best is None or best.curve not in (SYMMETRICAL_PAIR, SKEWED_PAIR):
            return None
        even = next((one for one in self.found if one.curve == SYMMETRICAL_PAIR), None)
        if even is not None and not self._near_miss(even.cost):
            return None
        leans = best.curve == SKEWED_PAIR and self.explains(best)
        return best if leans and (even is None or not self.explains(even)) else even

    def _near_miss(self, cost: float) -> bool:
        """Whether a pair leaves over so little that the slope of a reactance that couples it may be all there is."""
        return cost <= _NEAR_MISS_DB**2 * len(self.readings)

    def explains(self, one: Candidate) -> bool:
        """Whether a kind leaves over no more than noise."""
        return one.cost < self.hopeless and not has_structure(one, self.readings)

    def _extended(self, one: Candidate, curve: Curve, index: int) -> Candidate:
        """The larger kind with one parameter more, at `index`, that is nought in the smaller; fitted if it matters."""
        return self._larger(one, curve, _with_nought(one.parameters, index), index)

    def _larger(self, one: Candidate, curve: Curve, start: Array, index: int, handicap: float = 0.0) -> Candidate:
        """Fit the larger kind unless its parameter is nothing; a skew beside an even pair always counts."""
        if curve is not SYMMETRICAL_PAIR and any(each is one for each in self.found):
            return self.fit(curve, start, handicap, near=True)
        column = curve.jacobian(start, self.readings.frequency_hz)[:, index]
        size, sigma = significance(one, self.readings, column)
        if curve is SYMMETRICAL_PAIR:
            self._note_shape(size, sigma)
        if abs(size) < _NOTHING_SIGMAS * sigma:
            design = np.insert(one.design, index, column * self.readings.weight, axis=0)
            return replace(one, curve=curve, parameters=start, design=design)
        return self.fit(curve, start, handicap)

    def _note_pair(self, one: Candidate) -> None:
        """Take note of a pair that explains the readings."""
        self._note_shape(float(one.parameters[2]), math.sqrt(float(one.covariance[2, 2])))

    def _note_shape(self, shape: float, sigma: float) -> None:
        """Rule out what a pair of this shape, which explains the readings, is too far from to be."""
        if self.few:
            return
        lowest, highest = shape - _SURELY_SIGMAS * sigma, shape + _SURELY_SIGMAS * sigma
        two = EQUAL_CIRCUITS[1:2] if lowest < _SHAPE_NEAR_TWO[1] and highest > _SHAPE_NEAR_TWO[0] else ()
        more = EQUAL_CIRCUITS[2:] if highest > _SHAPE_LIKE_THREE and lowest < _SHAPE_LIKE_MANY else ()
        self.cascades_possible = two + more
        self.flat_tops_possible = highest > _SHAPE_LIKE_POLES

    def cascades(self) -> None:
        """Two, three ... equal circuits, as long as one more fits better."""
        before = np.inf
        for curve in self.cascades_possible:
            cost = self._cascade(curve)
            if cost > before:
                return
            before = cost

    def _cascade(self, curve: EqualCircuits) -> float:
        """The weighted sum of squares that so many equal circuits leave over, fitted if they have a chance."""
        if curve.count == 2 and self.like_two is not None:  # noqa: PLR2004 - two equal circuits are a pair
            return self.fit(curve, self.like_two, near=True).cost
        if self.ruled_out(self.begin.least_cost_of_equal(curve.count)):
            return np.inf
        start = self.begin.equal_circuits(curve.count)
        cost = self._cost(curve, start)
        if cost < max(_START_ALLOWANCE * self.hopeless, _CLOSE_START_DB**2 * len(self.readings)):
            return self.fit(curve, start).cost
        return cost

    def _likeliest(self, curve: Curve, likely: list[Array]) -> Array:
        """The start that leaves over least."""
        return min(likely, key=lambda start: self._cost(curve, start)) if len(likely) > 1 else likely[0]

    def _cost(self, curve: Curve, parameters: Array) -> float:
        off = (curve.level_db(parameters, self.readings.frequency_hz) - self.readings.level_db) * self.readings.weight
        cost = float(off @ off)
        return cost if math.isfinite(cost) else math.inf

    def flat_tops(self) -> None:
        """Filters of three, four, five ... poles, from the likeliest upwards and downwards as long as that helps."""
        if not self.flat_tops_possible:
            return
        curves = [one for one in FLAT_TOPS if not self._too_few_poles(one)]
        if self.found and self.explains(best_of(self.found)):
            self._neighbours(best_of(self.found), curves)
            return
        given, cost = starts.flat_tops(self.readings, self.rough.top_hz, math.log(self.rough.width_hz))
        first = int(np.argmin(cost[-len(curves) :]))
        lead = self.fit(curves[first], given[first - len(curves)])
        self._neighbours(lead, () if self._wants_rounder(lead) else curves[first + 1 :], curves[:first][::-1])

    def _gains_nothing(self, curve: StaggeredCircuits) -> bool:
        """Whether no curve of so many circuits can gain on the best so far what the parameters of this kind cost."""
        if self.few or not (self.sparing and self.found):
            return False
        best = best_of(self.found)
        level_db = self.readings.level_db - best.residual_db
        needed = least_gain(len(self.readings), len(best.parameters), len(curve.parameter_names))
        return self.begin.most_gained(curve.count, level_db) < needed

    def _too_few_poles(self, curve: FlatTop) -> bool:
        return curve.poles <= MOST_CIRCUITS and self.ruled_out(self.begin.least_cost(curve.poles))

    def _wants_rounder(self, one: Candidate) -> bool:
        return one.cost > self.hopeless and float(one.parameters[2]) < 0.0

    def _neighbours(self, lead: Candidate, *ways: Sequence[FlatTop]) -> None:
        """Flat tops with more and more poles, or fewer and fewer, until they are worse than the best that way."""
        beside_lead = self._flat_tops_beside(lead)
        for curves in ways:
            least, given = lead.score, beside_lead
            for curve in curves:
                here = self.fit(curve, given[curve.poles - FLAT_TOPS[0].poles], near=True)
                if here.score > least + _WORSE:
                    break
                least, given = min(least, here.score), self._flat_tops_beside(here)

    def _flat_tops_beside(self, one: Candidate) -> Array:
        """Starts for every flat top where a fitted kind has its middle and width, shape (m, 4)."""
        return starts.flat_tops(self.readings, float(one.parameters[0]), float(one.parameters[1]))[0]

    def staggered_circuits(self) -> None:
        """Three and four circuits that are not alike, unless a pair says it all; lopsided ones for the better count."""
        best = best_of(self.found) if self.found else None
        if best is not None and best.curve in LIMITS_OF_PAIR:
            doubtful = self.few and best.noise_db > _MORE_THAN_NOISE_DB
            if not doubtful and not has_structure(best, self.readings):
                return
        tried: list[tuple[Candidate, StaggeredCircuits, Array]] = []
        for even, skewed in zip(STAGGERED_CIRCUITS, SKEWED_CIRCUITS, strict=True):
            if self.ruled_out(self.begin.least_cost(even.count)) or self._gains_nothing(even):
                continue
            given = self.begin.circuits(even.count)
            likely = [] if given is None else [np.concatenate((given[: even.count + 1], given[-1:]))]
            likely += [_with_nought(one.parameters, even.count) for one, _, _ in tried]
            if likely:
                one = self.fit(even, self._likeliest(even, likely))
                tried.append((one, skewed, one.parameters if given is None else given))
        if tried:
            one, skewed, given = min(tried, key=lambda each: each[0].score)
            if best_of(self.found) is not one and self._gains_nothing(skewed):
                return
            head, level = one.parameters[:-1], one.parameters[-1:]
            plain = np.concatenate((head, np.zeros(len(head) - 2), level))
            likely = [plain] if len(given) < len(plain) else [plain, given]
            self.chains(one, self.fit(skewed, self._likeliest(skewed, likely)))

    def chains(self, even: Candidate, skewed: Candidate) -> None:
        """The same circuits in a chain of reactances, where the readings ask for its slope or leave it open.

        A chain of n tanks hands on f^m, m from -(n - 1) to n - 1 in steps of two: each coupling, and what feeds the
        first and is read at the last, is a capacitance or an inductance.
        """
        lead = min(even, skewed, key=lambda one: one.score)
        if lead.score > best_of(self.found).score + _HOPELESS:
            return
        slope, sigma = significance(lead, self.readings, self._rise(lead))
        circuits = (len(even.parameters) - 3) + 1
        for power in range(1 - circuits, circuits, 2):
            if power and abs(slope - power) < max(_OPEN_SIGMAS * sigma, _OPEN_SLOPE):
                self.fit(Sloped(even.curve, power), even.parameters, _LESS_USUAL)
                self.fit(Sloped(skewed.curve, power), skewed.parameters, _LESS_USUAL)

    def _rise(self, one: Candidate) -> Array:
        """What a level that rises with the frequency does to each reading, shape (n,)."""
        return np.asarray(2.0 * DB_PER_NEPER_OF_POWER * np.log(self.readings.frequency_hz / one.parameters[0]))
