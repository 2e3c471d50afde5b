"""Measure gain control: the range over which it holds the output, what the output changes by, attack and release."""

import math
from collections.abc import Generator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sequences.alignment.outcome import Finding, StepOutcome, Task
from sequences.engine.asks import connect, set_controls
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_frequency, set_output, set_power
from sequences.errors import SequenceError
from sequences.kinds.gain_control.layout import MERIT
from sequences.numerics.figures import Estimate, mean_of
from sequences.numerics.levels.control_times import TooQuick, time_to_settle
from sequences.numerics.levels.passband_top import PassbandTop
from sequences.numerics.verdicts.verdict import Judged, Signs, Standing, Verdict, judge_at_least
from sequences.numerics.wording import say_db, say_dbm
from sequences.procedures.antenna import find_top, tune, where_of
from sequences.procedures.steady import Course, until_steady
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.procedures.sweeps.place import Place, place_of
from sequences.procedures.sweeps.source_level import SourceLevel
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.hookups import gain_control_places

REFERENCE_DBM = -6.99
"""100 mV in 50 ohm. Source of the figure of merit, a fall of the output by 10 dB from a stated strong signal: IEC
60315-3 (from memory)."""

LEAST_REFERENCE_DBM = -26.99
"""A weaker signal than 10 mV makes no bound worth telling."""

BOUND = Quantity(
    "agc-merit-bound",
    "AGC figure of merit, at least",
    "dB",
    Sense.AT_LEAST,
    "how far a signal may fall at least before the output falls by 10 dB, told from less than 100 mV",
    Phrase("with its output held over {size} or more"),
)
FALL_DB = 10.0
TEN_MICROVOLT_DBM, TEN_MILLIVOLT_DBM = -86.99, -26.99
"""Between these, TM AGO 3134, page 79, lets the output of a good receiver rise by 3 dB."""

STEP_DBM = (-26.99, -66.99)
"""The strong and the weak signal between which attack and release are timed."""

NEAR_TOP_DB = (2.0, 4.0, 6.0)
OVERLOAD_SPANS_DB = ((2.6, 4.2), (2.25, 3.2))
"""So far below the greatest output levels are held. What an overdriven stage holds bends softly: 3.3 dB and 2.6 dB of
the signal lie between them (the hyperbolic tangent of a valve pair). A control takes 6 dB and more, and what lies below
a delayed control's threshold just 2 dB; a stage that clips hard cannot be told from that, and is not suspected."""

ROUNDS = 3
RISE = Quantity(
    "agc-rise",
    "rise of the output from 10 uV to 10 mV",
    "dB",
    meaning="how much more output a signal a thousand times as strong gives",
)
RELEASE = Quantity(
    "agc-release", "release time", "s", meaning="how long the output takes to recover after a signal 40 dB stronger"
)
ATTACK = Quantity(
    "agc-attack", "attack time", "s", meaning="how long the output is too strong after the signal grows by 40 dB"
)
QUANTITIES = (MERIT, BOUND, RISE, RELEASE, ATTACK)


@dataclass(slots=True)
class _Found:
    """What was found so far."""

    findings: list[Finding] = field(default_factory=list)
    advice: list[str] = field(default_factory=list)


def gain_control(task: Task) -> Procedure[StepOutcome]:
    """Measure at the first place of the AGC switch; time attack and release at each; nothing is turned."""
    place = place_of(task.receiver, task.way.hookup)
    yield from connect(task.way.hookup, task.way.cautions)
    (spot,) = task.step.spots
    yield from tune(task, spot)
    found = _Found()
    where = where_of(task, spot)
    try:
        finder, top = yield from find_top(task, place, spot.source_khz or 0.0)
        yield from _measure(task, place, _At(top, finder.quiet_sigma_v, where), found)
    except SequenceError as error:
        found.findings.append(Finding(MERIT, where, None, reason=str(error)))
    yield from set_output(False)
    return StepOutcome(task.step.id, task.phase, tuple(found.findings), advice=tuple(found.advice))


@dataclass(frozen=True, slots=True)
class _At:
    """The top of the passband, where the source stands; the noise of a quiet reading; how the place is called."""

    top: PassbandTop
    sigma_v: float
    where: str


def _measure(task: Task, place: Place, at: _At, found: _Found) -> Generator[Request, Any, None]:
    if place.highest_dbm < LEAST_REFERENCE_DBM:
        raise SequenceError(
            f"The figure needs a signal of {say_dbm(LEAST_REFERENCE_DBM)} or more, and this point allows "
            f"{say_dbm(place.highest_dbm)} at most."
        )
    control, choices = gain_control_places(task.receiver)
    yield from set_frequency(at.top.frequency_hz)
    for number, choice in enumerate(choices):
        if control is not None and choice is not None:
            yield from set_controls({control: choice})
        if number == 0:
            found.findings += yield from _held_range(task, place, at)
        where = f"{at.where}, {choice}" if choice else at.where
        try:
            yield from _times(where, found)
        except SequenceError as error:
            found.advice.append(f"Attack and release at {where} could not be timed: {error}")


def _steady_at(power_dbm: float) -> Generator[Request, Any, Course]:
    yield from set_power(power_dbm)
    return (yield from until_steady("gain control"))


def _held_range(task: Task, place: Place, at: _At) -> Generator[Request, Any, list[Finding]]:
    """Measure the figure of merit and the rise of the output."""
    yield from set_output(True)
    weak = yield from _steady_at(TEN_MICROVOLT_DBM)
    strong = yield from _steady_at(TEN_MILLIVOLT_DBM)
    reference_dbm = min(REFERENCE_DBM, place.highest_dbm)
    reference = yield from _steady_at(reference_dbm)
    back = yield from _steady_at(TEN_MILLIVOLT_DBM)
    rest_v = np.abs(reference.rest_v)
    target_v = float(reference.rest_v.mean()) * 10.0 ** (-FALL_DB / 20.0)
    wait_s = max(place.settle_s, *(float(course.time_s[-1]) for course in (weak, strong, reference, back)))
    noise_v = max(at.sigma_v, float(reference.rest_v.std(ddof=1)))

    def hold(volts: float) -> Generator[Request, Any, Estimate]:
        level = SourceLevel(TEN_MILLIVOLT_DBM, at.top.frequency_hz, volts, noise_v)
        return (yield from HeldOutput(level, place.highest_dbm, wait_s).read(at.top.frequency_hz, "gain control"))

    held = yield from hold(target_v)
    powers_dbm = np.empty(len(NEAR_TOP_DB))
    for number, below_db in enumerate(NEAR_TOP_DB):
        powers_dbm[number] = -(yield from hold(float(reference.rest_v.mean()) * 10.0 ** (-below_db / 20.0))).value
    rise = _rise(at, weak, np.concatenate([strong.rest_v, back.rest_v]))
    slope = FALL_DB / (reference_dbm + held.value)
    unsure_db = 20.0 / math.log(10.0) * float(rest_v.std(ddof=1) / rest_v.mean()) / math.sqrt(len(rest_v))
    # A target that is off by so much moves the level by as much as the flattest part of the law is steep.
    sigma_db = math.hypot(held.sigma, at.top.short_db, unsure_db / max(abs(slope), 0.05))
    finding = _judged(task, at, Estimate(reference_dbm + held.value, sigma_db), reference_dbm)
    is_kept = finding.judged is not None and finding.judged.standing is Standing.WITHIN
    return [_overloaded(task, at) if is_kept and _is_overload(powers_dbm) else finding, *rise]


def _is_overload(powers_dbm: np.ndarray) -> bool:
    """Tell the soft bend of an overdriven stage from a control, which is flatter, and from what lies below one."""
    spans_db = -np.diff(powers_dbm)
    return all(low <= span <= high for span, (low, high) in zip(spans_db, OVERLOAD_SPANS_DB, strict=True))


def _judged(task: Task, at: _At, merit: Estimate, reference_dbm: float) -> Finding:
    """Judge the figure; a bound where the signal was less than 100 mV, which is enough to meet a limit only.

    A control holds the output the better the stronger the signal, so that from a weaker one the figure is the smaller.
    """
    least_db, signs = task.step.limits[0].most, Signs(nothing_to_turn=True)
    if reference_dbm >= REFERENCE_DBM:
        name = f"The AGC figure of merit at {at.where}"
        return Finding(MERIT, at.where, merit, judge_at_least(name, merit, least_db, say_db, signs=signs))
    name = f"The AGC figure of merit, at least, at {at.where}"
    judged = judge_at_least(name, merit, least_db, say_db, signs=signs)
    if judged.standing is Standing.WITHIN:
        return Finding(BOUND, at.where, merit, judged)
    reason = (
        f"The AGC figure of merit is at least {say_db(merit.value)}, told from the strongest signal allowed, "
        f"{say_dbm(reference_dbm)}. Whether it meets the limit of {say_db(least_db)} cannot be told without one of "
        "100 mV."
    )
    return Finding(BOUND, at.where, None, reason=reason)


def _overloaded(task: Task, at: _At) -> Finding:
    """Suspect a gain control in whose place an overdriven stage holds the output."""
    text = (
        f"The output at {at.where} bends as that of an overdriven stage does, and not as gain control holds it. "
        "Suspect a part."
    )
    judged = Judged(Verdict.SUSPECT, Standing.BEYOND, None, task.step.limits[0].most, None, text)
    return Finding(MERIT, at.where, None, judged, text)


def _rise(at: _At, weak: Course, strong_v: np.ndarray) -> list[Finding]:
    """Give the rise of the output, where the weak signal gives any."""
    weak_v = weak.rest_v
    if abs(float(weak_v.mean())) <= 3.0 * float(weak_v.std(ddof=1)):
        return []
    weak_db, strong_db = (_in_db(volts) for volts in (weak_v, strong_v))
    rise = Estimate(strong_db.value - weak_db.value, math.hypot(strong_db.sigma, weak_db.sigma))
    return [Finding(RISE, at.where, rise)]


def _in_db(volts: np.ndarray) -> Estimate:
    """Give the mean voltage of repeats in dB: the mean of the decibels of noisy readings would be too low."""
    mean = mean_of(volts.tolist()).for_few_repeats()
    return Estimate(20.0 * math.log10(abs(mean.value)), 20.0 / math.log(10.0) * mean.sigma / abs(mean.value))


def _times(where: str, found: _Found) -> Generator[Request, Any, None]:
    """Time release and attack at one place of the switch."""
    strong_dbm, weak_dbm = STEP_DBM
    yield from _steady_at(strong_dbm)
    times: dict[Quantity, list[Estimate | TooQuick]] = {RELEASE: [], ATTACK: []}
    for _ in range(ROUNDS):
        for quantity, power_dbm in ((RELEASE, weak_dbm), (ATTACK, strong_dbm)):
            course = yield from _steady_at(power_dbm)
            times[quantity].append(time_to_settle(course.time_s, course.volts))
    for quantity, each in times.items():
        told = [time for time in each if isinstance(time, Estimate)]
        if len(told) == ROUNDS:
            mean = mean_of([time.value for time in told], max(time.sigma for time in told))
            found.findings.append(Finding(quantity, where, mean.for_few_repeats()))
        else:
            quick_s = max((time.within_s for time in each if isinstance(time, TooQuick)), default=0.0)
            after = f" after {quick_s:.2g} s" if quick_s > 0.0 else ""
            found.advice.append(
                f"The {quantity.name} at {where} is too short for this meter: at its first reading{after} the output "
                "was near its steady value."
            )
