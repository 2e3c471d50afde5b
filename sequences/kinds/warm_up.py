"""Warm-up: count an oscillator until it drifts slowly enough, or the longest time has passed."""

import dataclasses
from collections.abc import Generator
from dataclasses import dataclass, field
from typing import Any

from sequences.alignment.drift import DRIFT, TO_COME
from sequences.alignment.outcome import Finding, StepOutcome, Task
from sequences.engine.asks import connect
from sequences.engine.events import Notice, Progress, ReadingTaken
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import count_frequency, settle, tell
from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.counting import count_sigma_hz
from sequences.numerics.oscillators.drift import (
    LEAST_COUNTS,
    S_PER_MINUTE,
    RateAt,
    drift_rate,
    is_slow_enough,
    seconds_until,
)
from sequences.numerics.oscillators.warming import still_to_come
from sequences.numerics.verdicts.verdict import Judged, Standing, Verdict, judge_at_most
from sequences.numerics.wording import in_unit
from sequences.plan.content import Limit, Shown, Step, Way, WayName
from sequences.plan.parts import PULLING, at_rest_on_first_band, oscillators_of, way
from sequences.plan.places import WARM_UP
from sequences.procedures.kind import Kind
from sequences.quantities import Quantity, Sense
from sequences.receiver.model import Receiver
from sequences.receiver.points import drifting_oscillator

NAME = "warm-up"
TIME = Quantity("warm-up-time", "time", "minutes", Sense.AT_MOST, header="Warm-up")
_SAY_RATE = in_unit(DRIFT.unit, "{:.2g}")
GATE_S = 1.0
INTERVAL_S = 30.0
WINDOW = 5
"""The latest counts, over which the rate is told: two minutes of them."""

MOST_LOST = 5
NOTHING_COUNTED = (
    "No oscillator of this receiver can be counted, so that nothing tells when it is warm: it is given {minutes:g} "
    "minutes. If it has been on for as long already, skip this step. A counter point in the receiver file would end "
    "the wait as soon as it is warm."
)


@dataclass(slots=True)
class _Course:
    """The counts so far, and the rates they gave."""

    limit_hz: float
    longest_s: float
    time_s: list[float] = field(default_factory=list)
    count_hz: list[float] = field(default_factory=list)
    rates: list[RateAt] = field(default_factory=list)
    rate: Estimate | None = None
    lost: int = 0

    def take(self, reading: ReadingTaken) -> None:
        """Enter a count."""
        if reading.value is None or reading.value <= 0.0:
            self.lost += 1
            return
        self.lost = 0
        self.time_s.append(reading.time_s)
        self.count_hz.append(reading.value)
        if len(self.time_s) < LEAST_COUNTS:
            return
        latest_s, latest_hz = self.time_s[-WINDOW:], self.count_hz[-WINDOW:]
        self.rate = drift_rate(latest_s, latest_hz, count_sigma_hz(latest_hz[-1], GATE_S))
        self.rates.append(RateAt(sum(latest_s) / len(latest_s), self.rate.value))

    @property
    def passed_s(self) -> float:
        """Give how long it was counted."""
        return self.time_s[-1] - self.time_s[0] if self.time_s else 0.0

    def has_ended(self) -> bool:
        """Tell whether it is warm, or has had its time, or cannot be counted."""
        warm = len(self.time_s) >= WINDOW and self.rate is not None and is_slow_enough(self.rate, self.limit_hz)
        return warm or self.passed_s >= self.longest_s or self.lost >= MOST_LOST

    def to_come_hz(self) -> Estimate | None:
        """Give how far it will still drift, where the counts tell it."""
        if not self.count_hz:
            return None
        return still_to_come(self.time_s, self.count_hz, count_sigma_hz(self.count_hz[-1], GATE_S))

    def remaining_s(self) -> float | None:
        """Give the seconds that are left, where the rate falls clearly enough to tell."""
        if len(self.rates) <= WINDOW:
            return None
        return seconds_until(self.limit_hz, self.rates[-1 - WINDOW], self.rates[-1])


def warm_up(task: Task) -> Procedure[StepOutcome]:
    """Wait until the receiver has warmed up; measuring and waiting are the same in every phase."""
    limit_hz, longest_minutes = _limit(task, DRIFT), _limit(task, TIME)
    yield from connect(task.way.hookup, task.way.cautions)
    if task.way.name is WayName.WAIT:
        return (yield from _wait(task, longest_minutes))
    course = _Course(limit_hz, longest_minutes * S_PER_MINUTE)
    while True:
        course.take((yield from count_frequency(GATE_S, "warm-up")))
        yield from tell(_progress(course))
        if course.has_ended():
            return _outcome(task, course, longest_minutes)
        yield from settle(INTERVAL_S - GATE_S)


def _wait(task: Task, minutes: float) -> Generator[Request, Any, StepOutcome]:
    """Wait the longest time, since nothing can be counted."""
    yield from tell(Notice(NOTHING_COUNTED.format(minutes=minutes)))
    for minute in range(round(minutes)):
        yield from tell(Progress(minute / minutes, (minutes - minute) * S_PER_MINUTE, "Warming up"))
        yield from settle(S_PER_MINUTE)
    reason = "No oscillator of this receiver can be counted, so it was given its time instead."
    findings = (
        Finding(DRIFT, "", None, reason=reason),
        Finding(TIME, "", Estimate(minutes, 0.0)),
    )
    return StepOutcome(task.step.id, task.phase, findings)


def _progress(course: _Course) -> Progress:
    remaining_s = course.remaining_s()
    text = "Counting" if course.rate is None else f"Drifting by {_SAY_RATE(course.rate.value)}"
    if remaining_s is None:
        return Progress(min(course.passed_s / course.longest_s, 1.0), None, text)
    whole_s = course.passed_s + remaining_s
    return Progress(min(course.passed_s / whole_s, 1.0) if whole_s else 1.0, remaining_s, text)


def _outcome(task: Task, course: _Course, longest_minutes: float) -> StepOutcome:
    minutes = Estimate(course.passed_s / S_PER_MINUTE, 0.0)
    time = Finding(TIME, "", minutes)
    if course.rate is None or course.lost >= MOST_LOST:
        reason = (
            f"The counter gave no frequency {MOST_LOST} times in a row: lay the pick-up closer, and see that the "
            f"receiver is on."
        )
        return StepOutcome(task.step.id, task.phase, (Finding(DRIFT, "", None, reason=reason), time))
    judged = judge_drift(course.rate, course.limit_hz, minutes.value, longest_minutes)
    drift = Finding(DRIFT, "", course.rate, judged)
    advice = (f"It drifts by {_SAY_RATE.known_to(course.rate)} after {minutes.value:.0f} minutes of counting.",)
    to_come = course.to_come_hz()
    if to_come is None:
        return StepOutcome(task.step.id, task.phase, (drift, time), advice=advice)
    return StepOutcome(task.step.id, task.phase, (drift, time, Finding(TO_COME, "", to_come)), advice=advice)


def judge_drift(rate: Estimate, limit_hz: float, minutes: float, longest_minutes: float) -> Judged:
    """Judge a drift rate in Hz a minute. Nothing is turned for it: one that does not die away points to a part."""
    size = Estimate(abs(rate.value), rate.sigma)
    judged = judge_at_most("The drift", size, limit_hz, _SAY_RATE)
    if judged.standing is Standing.WITHIN:
        return judged
    if judged.standing is Standing.AT_LIMIT:
        text = f"The drift is {_SAY_RATE(size.value)}, too close to call against the limit: go on as it is, with care."
        return dataclasses.replace(judged, verdict=Verdict.LEAVE, text=text)
    if minutes < longest_minutes:
        text = (
            f"The drift is {_SAY_RATE(size.value)}, beyond the limit of {_SAY_RATE(limit_hz)}: let it warm up longer."
        )
        return dataclasses.replace(judged, verdict=Verdict.TOUCH_UP, text=text)
    text = (
        f"The drift is still {_SAY_RATE(size.value)} after {minutes:.0f} minutes, beyond the limit of "
        f"{_SAY_RATE(limit_hz)}: suspect a part of the oscillator that changes with heat, a capacitor first."
    )
    return dataclasses.replace(judged, verdict=Verdict.SUSPECT, text=text)


def _limit(task: Task, quantity: Quantity) -> float:
    return {limit.quantity: limit.most for limit in task.step.limits}[quantity]


def _steps(receiver: Receiver) -> list[Step]:
    """Let it warm up: count the oscillator that drifts most, a tunable one where it can be counted."""
    limits = (
        Limit(DRIFT, receiver.limits.drift_hz_per_minute),
        Limit(TIME, receiver.limits.longest_warm_up_minutes),
    )
    controls = at_rest_on_first_band(receiver)
    counted = drifting_oscillator(receiver)
    if counted is None:
        words = (f"nothing: wait {receiver.limits.longest_warm_up_minutes:g} minutes", "no oscillator can be counted")
        return [_step("receiver", way(receiver, WayName.WAIT, controls, words), limits)]
    subject, point = counted
    words = ("the frequency, once a while, until it no longer creeps", PULLING)
    counting = _step(subject, way(receiver, WayName.COUNT, controls, words, counter=point), limits)
    return [dataclasses.replace(counting, oscillators=oscillators_of(receiver, subject))]


def _step(subject: str, how: Way, limits: tuple[Limit, ...]) -> Step:
    return Step(
        id=WARM_UP,
        kind=NAME,
        title="Warm-up",
        subject=subject,
        places_from_detector=-1,
        ways=(how,),
        limits=limits,
        meaning=(
            "The oscillators of a receiver drift while it warms up, so that measuring begins when they no longer do."
        ),
        shown=Shown.OVER_TIME,
    )


KIND = Kind(NAME, _steps, warm_up, (DRIFT, TIME, TO_COME))
