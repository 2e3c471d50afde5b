"""The verdict on a figure: leave, touch up, adjust, suspect a part, or measure again; with the figure and the limit.

What the decision rule cannot decide is too close to call: it is measured again, and never an order to turn. What can
gain but little is left alone: sets hold their alignment for years, and a turn can do harm.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.decision_rule import (
    Standing,
    Tolerance,
    conformance_probability,
    repeats_to_decide,
    standing,
)
from sequences.numerics.wording import Wording

__all__ = [
    "Gain",
    "Judged",
    "Signs",
    "Standing",
    "Verdict",
    "adjust_without_figure",
    "judge_at_least",
    "judge_at_most",
    "judge_error",
    "suspect_without_figure",
]

SURE_SIGMAS = 2.0
LITTLE_GAIN_DB = 0.5


class Verdict(StrEnum):
    """What to do."""

    LEAVE = "leave"
    TOUCH_UP = "touch up"
    ADJUST = "adjust"
    SUSPECT = "suspect a part"
    MEASURE_AGAIN = "measure again"


@dataclass(frozen=True, slots=True)
class Judged:
    """A verdict and what led to it. `beyond`: by how much the figure is beyond its limit, negative where within.

    Both figures are None where the sign of a bad part kept the figure from being had at all. `conformance`: the chance
    that the true value is within the limit; None where no figure tells it. `repeats`: about how many times as
    many readings would decide what is too close to call; None where nothing is to be decided, or not even many would.
    """

    verdict: Verdict
    standing: Standing
    figure: Estimate | None
    limit: float
    beyond: Estimate | None
    text: str
    conformance: float | None = None
    repeats: int | None = None

    @property
    def is_told(self) -> bool:
        """Tell whether there was a figure to be judged: a number, with an uncertainty that says something."""
        return self.beyond is not None and math.isfinite(self.beyond.value) and math.isfinite(self.beyond.sigma)


@dataclass(frozen=True, slots=True)
class Signs:
    """What was seen besides the figure that points at a part rather than at the alignment.

    `out_of_travel`: the adjuster reached its end and the figure was still off. `siblings_right`: bands or circuits
    that share the adjuster are right where this one is not. `never_peaks`: the adjuster is broad or shows no peak.
    `seized`: the adjuster cannot be turned. `nothing_to_turn`: no adjuster moves the figure, or none that may be.
    """

    out_of_travel: bool = False
    siblings_right: bool = False
    never_peaks: bool = False
    seized: bool = False
    nothing_to_turn: bool = False

    def reason(self) -> str | None:
        """Give the first sign seen, as the end of a sentence."""
        signs = (
            (self.seized, "the adjuster cannot be turned"),
            (self.out_of_travel, "the adjuster is at the end of its travel"),
            (self.siblings_right, "its siblings on the same adjuster are right"),
            (self.never_peaks, "the adjuster is broad or never peaks"),
            (self.nothing_to_turn, "nothing that may be turned moves it"),
        )
        return next((reason for seen, reason in signs if seen), None)


@dataclass(frozen=True, slots=True)
class Gain:
    """What adjusting could bring at most, and the least that is worth a turn, in dB unless `say` says otherwise."""

    possible: Estimate
    worth: float = LITTLE_GAIN_DB
    say: Callable[[float], str] = "{:.2f} dB".format

    def is_little(self) -> bool:
        """Tell whether the gain is surely not worth a turn."""
        return self.possible.value + SURE_SIGMAS * self.possible.sigma < self.worth

    def is_surely_worth(self) -> bool:
        """Tell whether the gain is surely worth a turn."""
        return self.possible.value - SURE_SIGMAS * self.possible.sigma >= self.worth


def judge_error(
    name: str,
    error: Estimate,
    limit: float,
    say: Wording,
    *,
    gain: Gain | None = None,
    signs: Signs | None = None,
) -> Judged:
    """Judge a signed error against the largest one allowed either way: a centre, a dial mark, an oscillator.

    Up to twice the limit the verdict is a touch-up, a small turn; past that, an adjustment.

    Args:
        name: What the figure is, as the subject of a sentence: "The centre of the 60 kHz passband".
        error: The figure minus what it should be.
        limit: The largest error allowed, above zero.
        say: Turns a figure into words with its unit.
        gain: What there is to gain, where that is known.
        signs: What else was seen.
    """
    way = "high" if error.value > 0.0 else "low"
    stands = f"{name} is {say.known_to(Estimate(abs(error.value), error.sigma))} {way}"
    case = _Case(error, Tolerance(-limit, limit), Estimate(abs(error.value) - limit, error.sigma), limit)
    return case.judged(name, stands, say(limit), *_decide(case, limit, gain, signs or Signs()))


def judge_at_least(
    name: str,
    figure: Estimate,
    least: float,
    say: Wording,
    *,
    reachable: Estimate | None = None,
    gain: Gain | None = None,
    signs: Signs | None = None,
) -> Judged:
    """Judge a figure that should be no less than a limit: activity, level, image rejection.

    Where even the best that the adjuster can reach is surely under the limit, a part is suspected.
    """
    case = _Case(figure, Tolerance(lower=least), Estimate(least - figure.value, figure.sigma), least)
    verdict, why = _decide(case, 0.0, gain, signs or Signs())
    if verdict in {Verdict.TOUCH_UP, Verdict.ADJUST} and reachable is not None:
        hopeless = standing(reachable, case.allowed) is Standing.BEYOND
        if hopeless and case.standing is Standing.BEYOND:
            verdict, why = Verdict.SUSPECT, f"the best the adjuster reaches is {say(reachable.value)}"
    return case.judged(name, f"{name} is {say.known_to(figure)}", f"at least {say(least)}", verdict, why)


def judge_at_most(
    name: str,
    figure: Estimate,
    most: float,
    say: Wording,
    *,
    gain: Gain | None = None,
    signs: Signs | None = None,
) -> Judged:
    """Judge a figure that should be no more than a limit: a signal needed for so much output, a ripple, a skew."""
    case = _Case(figure, Tolerance(upper=most), Estimate(figure.value - most, figure.sigma), most)
    decided = _decide(case, 0.0, gain, signs or Signs())
    return case.judged(name, f"{name} is {say.known_to(figure)}", f"at most {say(most)}", *decided)


def suspect_without_figure(name: str, limit: float, signs: Signs) -> Judged:
    """Suspect a part where the adjuster could not be brought to where the figure is told.

    Raises:
        ValueError: no sign was seen.
    """
    reason = signs.reason()
    if reason is None:
        raise ValueError(f"{name}: a part is suspected on a sign only.")
    text = f"{name} could not be measured, since {reason}. Suspect a part."
    return Judged(Verdict.SUSPECT, Standing.BEYOND, None, limit, None, text)


def adjust_without_figure(name: str, limit: float, why: str) -> Judged:
    """Advise adjusting where a figure is so far out that it could not be had; `why` ends the sentence."""
    return Judged(
        Verdict.ADJUST, Standing.BEYOND, None, limit, None, f"{name} could not be measured, since {why}. Adjust it."
    )


@dataclass(frozen=True, slots=True)
class _Case:
    """A figure, what is allowed, by how much it is beyond that, and the limit as it is told."""

    figure: Estimate
    allowed: Tolerance
    beyond: Estimate
    limit: float

    @property
    def standing(self) -> Standing:
        return standing(self.figure, self.allowed)

    def judged(self, name: str, stands: str, limit: str, verdict: Verdict, why: str | None) -> Judged:
        """Put the verdict into words."""
        where, within = self.standing, conformance_probability(self.figure, self.allowed)
        conformance = None if math.isnan(within) else within
        if not (math.isfinite(self.figure.value) and math.isfinite(self.figure.sigma)):
            text = f"{name} could not be measured. Measure it again."
            return Judged(verdict, where, self.figure, self.limit, self.beyond, text, conformance)
        repeats = repeats_to_decide(self.figure, self.allowed) if where is Standing.AT_LIMIT else None
        text = f"{stands}, {_TO_LIMIT[where]} of {limit}. {_what_to_do(verdict, why, repeats)}"
        return Judged(verdict, where, self.figure, self.limit, self.beyond, text, conformance, repeats)


_TO_LIMIT = {
    Standing.WITHIN: "within the limit",
    Standing.AT_LIMIT: "too close to call against the limit",
    Standing.BEYOND: "outside the limit",
}


def _decide(case: _Case, small_excess: float, gain: Gain | None, signs: Signs) -> tuple[Verdict, str | None]:
    where, suspicion = case.standing, signs.reason()
    if where is Standing.WITHIN:
        worth = gain if gain is not None and gain.is_surely_worth() else None
        return (Verdict.LEAVE, None) if worth is None else (Verdict.TOUCH_UP, f"there is {_possible(worth)} to gain")
    if where is Standing.BEYOND and suspicion is not None:
        return Verdict.SUSPECT, suspicion
    if signs.nothing_to_turn and math.isfinite(case.figure.value):
        return Verdict.LEAVE, suspicion
    if gain is not None and gain.is_little():
        return Verdict.LEAVE, f"there is only {_possible(gain)} to gain"
    if where is Standing.BEYOND:
        return (Verdict.TOUCH_UP if case.beyond.value <= small_excess else Verdict.ADJUST), None
    return Verdict.MEASURE_AGAIN, None


def _possible(gain: Gain) -> str:
    return gain.say(gain.possible.value)


def _what_to_do(verdict: Verdict, why: str | None, repeats: int | None) -> str:
    if verdict is Verdict.MEASURE_AGAIN:
        if repeats is None:
            return "Measure it again. It is so near its limit that even many more readings may not decide."
        return f"Measure it again: about {repeats} times as many readings would decide."
    act = {
        Verdict.LEAVE: "No adjustment",
        Verdict.TOUCH_UP: "Touch it up",
        Verdict.ADJUST: "Adjust it",
        Verdict.SUSPECT: "Suspect a part",
    }[verdict]
    return f"{act}, since {why}." if why else f"{act}."
