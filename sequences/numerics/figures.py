"""What every estimator gives back: a figure with its uncertainty, and doubts that have names."""

from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure and its one-sigma uncertainty, both in the unit the field's name gives."""

    value: float
    sigma: float


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


@dataclass(frozen=True, slots=True)
class Doubt:
    """A named reason not to take a result at its word, with one sentence for the person who reads it."""

    name: DoubtName
    text: str
