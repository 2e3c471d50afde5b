"""The verdict on a figure: leave, touch up, adjust, or suspect a part; always with the figure and the limit.

A figure within its uncertainty of the limit is said to be so. What can gain but little is left alone: sets hold
their alignment for years, and a turn can do harm.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from sequences.numerics.figures import Estimate
from sequences.numerics.wording import Wording

SURE_SIGMAS = 2.0
LITTLE_GAIN_DB = 0.5


class Verdict(StrEnum):
    """What to do."""

    LEAVE = "leave"
    TOUCH_UP = "touch up"
    ADJUST = "adjust"
    SUSPECT = "suspect a part"


class Standing(StrEnum):
    """Where a figure stands to its limit, its uncertainty counted."""

    WITHIN = "within its limit"
    AT_LIMIT = "within its uncertainty of its limit"
    BEYOND = "beyond its limit"


@dataclass(frozen=True, slots=True)
class Judged:
    """A verdict and what led to it. `beyond`: by how much the figure is beyond its limit, negative where within.

    Both figures are None where the sign of a bad part kept the figure from being had at all.
    """

    verdict: Verdict
    standing: Standing
    figure: Estimate | None
    limit: float
    beyond: Estimate | None
    text: str


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
    beyond = Estimate(abs(error.value) - limit, error.sigma)
    way = "high" if error.value > 0.0 else "low"
    stands = f"{name} is {say.known_to(Estimate(abs(error.value), error.sigma))} {way}"
    verdict, why = _decide(beyond, limit, gain, signs or Signs())
    return _judged(verdict, why, error, limit, beyond, f"{stands}, {_to_limit(beyond)} of {say(limit)}")


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
    beyond = Estimate(least - figure.value, figure.sigma)
    seen = signs or Signs()
    verdict, why = _decide(beyond, 0.0, gain, seen)
    if verdict in {Verdict.TOUCH_UP, Verdict.ADJUST} and reachable is not None:
        hopeless = reachable.value + SURE_SIGMAS * reachable.sigma < least
        if hopeless and _standing(beyond) is Standing.BEYOND:
            verdict, why = Verdict.SUSPECT, f"the best the adjuster reaches is {say(reachable.value)}"
    stands = f"{name} is {say.known_to(figure)}"
    return _judged(verdict, why, figure, least, beyond, f"{stands}, {_to_limit(beyond)} of at least {say(least)}")


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
    beyond = Estimate(figure.value - most, figure.sigma)
    verdict, why = _decide(beyond, 0.0, gain, signs or Signs())
    stands = f"{name} is {say.known_to(figure)}"
    return _judged(verdict, why, figure, most, beyond, f"{stands}, {_to_limit(beyond)} of at most {say(most)}")


def suspect_without_figure(name: str, limit: float, signs: Signs) -> Judged:
    """Suspect a part where the adjuster could not be brought to where the figure is told.

    Raises:
        ValueError: no sign was seen.
    """
    reason = signs.reason()
    if reason is None:
        raise ValueError(f"{name}: a part is suspected on a sign only.")
    text = f"{name} could not be told, since {reason}: suspect a part."
    return Judged(Verdict.SUSPECT, Standing.BEYOND, None, limit, None, text)


def adjust_without_figure(name: str, limit: float, why: str) -> Judged:
    """Advise adjusting where a figure is so far out that it could not be had; `why` ends the sentence."""
    return Judged(
        Verdict.ADJUST, Standing.BEYOND, None, limit, None, f"{name} could not be told, since {why}: adjust it."
    )


def _standing(beyond: Estimate) -> Standing:
    if beyond.value + SURE_SIGMAS * beyond.sigma <= 0.0:
        return Standing.WITHIN
    return Standing.BEYOND if beyond.value - SURE_SIGMAS * beyond.sigma > 0.0 else Standing.AT_LIMIT


def _to_limit(beyond: Estimate) -> str:
    return {
        Standing.WITHIN: "within the limit",
        Standing.AT_LIMIT: "too close to call against the limit",
        Standing.BEYOND: "beyond the limit",
    }[_standing(beyond)]


def _decide(beyond: Estimate, small_excess: float, gain: Gain | None, signs: Signs) -> tuple[Verdict, str | None]:
    standing = _standing(beyond)
    if standing is Standing.WITHIN:
        if gain is not None and gain.is_surely_worth():
            return Verdict.TOUCH_UP, f"there is {gain.say(gain.possible.value)} to gain"
        return Verdict.LEAVE, None
    suspicion = signs.reason()
    if standing is Standing.BEYOND and suspicion is not None:
        return Verdict.SUSPECT, suspicion
    if signs.nothing_to_turn:
        return Verdict.LEAVE, suspicion
    if gain is not None and gain.is_little():
        return Verdict.LEAVE, f"there is only {gain.say(gain.possible.value)} to gain"
    small = standing is Standing.AT_LIMIT or beyond.value <= small_excess
    return (Verdict.TOUCH_UP if small else Verdict.ADJUST), None


def _judged(verdict: Verdict, why: str | None, figure: Estimate, limit: float, beyond: Estimate, stands: str) -> Judged:
    act = {
        Verdict.LEAVE: "leave it",
        Verdict.TOUCH_UP: "touch it up",
        Verdict.ADJUST: "adjust it",
        Verdict.SUSPECT: "suspect a part",
    }[verdict]
    reason = f", since {why}" if why else ""
    return Judged(verdict, _standing(beyond), figure, limit, beyond, f"{stands}: {act}{reason}.")
