"""What every estimator gives back: a figure with its uncertainty, and doubts that have names."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import fmean, stdev

NORMAL_95 = 1.959964
"""So many sigmas of a normal distribution on either side hold 95 % of it."""

FREEDOM_GROWS = 1.25
"""How fast the degrees of freedom grow with the known share of an uncertainty: as its power of so much."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure and its one-sigma uncertainty, both in the unit the field's name gives.

    `freedom`: the degrees of freedom with which sigma is known; infinite where it is known, or was widened already so
    that 1.96 of it cover 95 %. Every figure that is shown, kept or judged is of that kind: see `for_few_repeats`.
    """

    value: float
    sigma: float
    freedom: float = math.inf

    @property
    def expanded(self) -> float:
        """Half the 95 % interval, as a person is shown it after the value (JCGM 100:2008, 6.2)."""
        return NORMAL_95 * self.sigma

    def for_few_repeats(self) -> "Estimate":
        """Give the figure with the sigma of which 1.96 cover 95 %, though sigma was learnt from few repeats.

        The quantile is Student's t (JCGM 100:2008, annex G.3).
        """
        if math.isinf(self.freedom):
            return self
        from scipy.special import stdtrit  # noqa: PLC0415 - keeps scipy out of the start of every command

        return Estimate(self.value, self.sigma * float(stdtrit(self.freedom, 0.975)) / NORMAL_95)


def mean_of(repeats: Sequence[float], common_sigma: float = 0.0) -> Estimate:
    """Average repeats of one reading: their scatter, and an uncertainty common to all, which averaging leaves.

    The Welch-Satterthwaite formula (JCGM 100:2008, G.4.1) would let the degrees of freedom grow with the fourth power
    of the whole uncertainty over that of the scatter. Of two repeats that happen to agree it then claims too much: the
    intervals cover 87 %. With the power used here they cover 93 to 98 % for two repeats or more, whatever the share of
    the common part (by simulation).

    Args:
        repeats: One reading or more. One has no scatter, and the common part alone counts.
        common_sigma: One sigma, in the unit of the readings.
    """
    if len(repeats) == 1:
        return Estimate(repeats[0], common_sigma)
    if not all(map(math.isfinite, repeats)):
        return Estimate(math.nan, common_sigma)
    scatter = stdev(repeats) / math.sqrt(len(repeats))
    sigma = math.hypot(scatter, common_sigma)
    if scatter == 0.0:
        return Estimate(fmean(repeats), sigma)
    return Estimate(fmean(repeats), sigma, (len(repeats) - 1) * (sigma / scatter) ** FREEDOM_GROWS)


def combined(value: float, *parts: tuple[float, Estimate]) -> Estimate:
    """Give a figure worked out from independent ones, each with the figure's change for one unit of it.

    Its degrees of freedom are those of the Welch-Satterthwaite formula (JCGM 100:2008, G.4.1).
    """
    variances = [((change * part.sigma) ** 2, part.freedom) for change, part in parts]
    variance = sum(each for each, _ in variances)
    doubtful = sum(each**2 / freedom for each, freedom in variances)
    return Estimate(value, math.sqrt(variance), variance**2 / doubtful if doubtful > 0.0 else math.inf)


class DoubtName(StrEnum):
    """The reasons, each with one name, for which a figure is withheld or not to be believed as it stands."""

    TOO_FEW_READINGS = "too few readings"
    NOT_A_NUMBER = "not a number"
    NO_RISE = "no rise above the noise"
    EDGE_OUTSIDE = "edge outside the sweep"
    PEAK_AT_END = "peak at the end of the sweep"
    SECOND_PEAK = "second peak"
    WIDTH_UNDER_STEP = "width under the step between readings"
    POOR_FIT = "poor fit"
    POPS = "pops"
    DRIFT = "level drift"
    LAG = "meter lag"
    SATURATED = "top cut off"
    DETECTOR_LAW = "another detector law"
    QUANTISED = "coarse readings"
    SLOW_NOISE = "slow noise"
    FREQUENCY_DRIFT = "frequency drift"
    SAME_CURVE = "two kinds give the same curve"
    UNCERTAIN = "too uncertain"
    COMPRESSED = "top flattened by AGC"
    SELF_CHECK = "self-check failed"
    OFFSET_TOO_SMALL = "offset smaller than the error"
    NO_CROSSING = "zero not crossed"
    EDGES_REVERSED = "edges reversed"
    NOT_BRACKETED = "peak not passed"
    NOT_NARROWEST = "not the narrowest circuit"
    OFF_THE_CURVE = "off the known curve"
    OVER_COUPLED = "over-coupled"
    UNDER_FLOOR = "under its floor"
    NO_TONE = "no tone"
    SECOND_TONE = "second tone"
    TONE_DRIFT = "tone drift"
    UNSTEADY = "unsteady tone"
    CLIPPED = "input overdriven"
    HUM = "hum above the tone"
    ON_HUM = "tone on a harmonic of the hum"


@dataclass(frozen=True, slots=True)
class Doubt:
    """A named reason not to take a result at its word, with one sentence for the person who reads it."""

    name: DoubtName
    text: str
