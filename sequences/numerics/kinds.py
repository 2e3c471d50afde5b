"""Every kind of curve fitted to the same readings, cheaply: each from a good start, and none that has no chance."""

import numpy as np

from sequences.numerics import starts
from sequences.numerics.candidates import FINEST_NOISE_DB, PLAIN, Candidate, fit_curve, has_structure
from sequences.numerics.curves import (
    EQUAL_CIRCUITS,
    FLAT_TOPS,
    LIMITS_OF_PAIR,
    SINGLE_CIRCUIT,
    SKEWED_CIRCUITS,
    SKEWED_PAIR,
    STAGGERED_CIRCUITS,
    SYMMETRICAL_PAIR,
    Array,
    Curve,
)
from sequences.numerics.readings import Readings
from sequences.numerics.time_order import Effects

_HOPELESS = 60.0
"""A kind whose score is worse by this much is not worth a neighbour's try."""

_FAR_ABOVE_NOISE = 30.0
_WORSE = 6.0

# Width at 10 dB over width at 3 dB: a single circuit has 3, any cascade more than 1.82, a critical pair 1.73, flat tops
# of three poles and more less than 1.5. The bounds leave room for what noise does to the widths by eye.
_STEEPER_THAN_CASCADES = 1.5
_ROUNDER_THAN_FLAT_TOPS = 2.1
_STEEPNESS_BLURRED_DB = 0.8


def fit_kinds(readings: Readings, rough: starts.Outline, effects: Effects = PLAIN) -> list[Candidate]:
    """Fit every kind that has a chance, in no particular order."""
    fit = _Fitter(readings, rough, effects)
    fit.pairs()
    fit.equal_circuits()
    fit.flat_tops()
    fit.staggered_circuits()
    return fit.found


class _Fitter:
    """Fits kind after kind to the same readings; what has been found tells what has no chance any more."""

    def __init__(self, readings: Readings, rough: starts.Outline, effects: Effects) -> None:
        self.readings, self.rough, self.effects = readings, rough, effects
        self.found: list[Candidate] = []
        self.least_cost = len(readings) * _FAR_ABOVE_NOISE * (rough.noise_db**2 + FINEST_NOISE_DB**2)
        self.steepness = rough.steepness if rough.noise_db < _STEEPNESS_BLURRED_DB else None

    def fit(self, curve: Curve, start: Array) -> Candidate:
        hopeless = self.least_cost * float(np.exp(_HOPELESS / len(self.readings)))
        one = fit_curve(curve, self.readings, start, effects=self.effects, hopeless=hopeless)
        self.least_cost = min(self.least_cost, one.cost + FINEST_NOISE_DB**2 * len(self.readings))
        self.found.append(one)
        return one

    def pairs(self) -> None:
        """The skewed pair and the symmetrical one, each from the start of the other if it should be worse."""
        start = starts.pair(self.rough)
        symmetrical = self.fit(SYMMETRICAL_PAIR, np.delete(start, 3))
        skewed = self.fit(SKEWED_PAIR, start)
        if not skewed.cost <= symmetrical.cost:
            self.fit(SKEWED_PAIR, np.insert(symmetrical.parameters, 3, 0.0))

    def equal_circuits(self) -> None:
        """Cascades of one, two, three ... circuits, as long as one more fits better."""
        before = self.fit(SINGLE_CIRCUIT, starts.equal_circuits(self.rough, 1))
        if self.steepness is not None and self.steepness < _STEEPER_THAN_CASCADES:
            return
        for curve in EQUAL_CIRCUITS[1:]:
            here = self.fit(curve, starts.equal_circuits(self.rough, curve.count))
            if here.score > before.score:
                return
            before = here

    def flat_tops(self) -> None:
        """Filters of three, four, five ... poles, as long as one more fits better."""
        if self.steepness is not None and self.steepness > _ROUNDER_THAN_FLAT_TOPS:
            return
        place = np.array([self.rough.top_hz, np.log(self.rough.width_hz)])
        least = np.inf
        for curve in FLAT_TOPS:
            here = self.fit(curve, starts.flat_top(self.readings, curve, place))
            if here.score > least + _WORSE:
                return
            place, least = here.parameters[:2], min(least, here.score)

    def staggered_circuits(self) -> None:
        """Three and four circuits that are not alike, unless a pair says it all; lopsided ones for the better count."""
        best = min(self.found, key=lambda one: one.score)
        if best.curve in LIMITS_OF_PAIR and not has_structure(best, self.readings):
            return
        tried: list[tuple[float, Curve, Array]] = []
        for even, skewed in zip(STAGGERED_CIRCUITS, SKEWED_CIRCUITS, strict=True):
            start = starts.circuits(self.rough, even.count)
            if start is not None:
                without = np.delete(start, slice(even.count + 1, 2 * even.count))
                tried.append((self.fit(even, without).score, skewed, start))
        for least, skewed, start in tried:
            if least == min(one for one, _, _ in tried):
                self.fit(skewed, start)
