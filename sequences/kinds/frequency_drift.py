"""Frequency drift: how fast a warm receiver's oscillator still moves, and what the mains voltage does to it.

The oscillator is counted every half a minute, unattended, until its drift is told well enough against the limit: for
ten minutes at least and an hour at most. Source of the figure, drift over a stated time once warm: NBSIR 73-333,
section 4.8, frequency stability (1973; contents seen only). Mains 10 % low and high: IEC 60315-1 (from memory).
"""

from collections.abc import Generator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sequences.alignment.outcome import Finding, StepOutcome, Task
from sequences.engine.asks import CANNOT, DONE, choose, connect
from sequences.engine.events import Progress
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import count_frequency, settle, tell
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate, mean_of
from sequences.numerics.oscillators.counting import count_sigma_hz
from sequences.numerics.oscillators.drift import drift_rate
from sequences.numerics.verdicts.decision_rule import Standing, Tolerance, standing
from sequences.numerics.verdicts.verdict import Signs, judge_error
from sequences.numerics.wording import in_unit
from sequences.plan.content import Limit, Shown, Step, WayName
from sequences.plan.parts import PULLING, at_rest_on_first_band, oscillators_of, way
from sequences.plan.places import FREQUENCY_DRIFT, WARM_UP, conversion_place, conversion_step_ids
from sequences.procedures.kind import Kind
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.model import Receiver
from sequences.receiver.points import drifting_oscillator

NAME = "frequency drift"
RATE = Quantity(
    "drift-per-hour",
    "drift of the warm oscillator",
    "Hz an hour",
    Sense.EITHER_WAY,
    "how fast the oscillator moves once the receiver is warm",
    Phrase("drifting by {size}{way}", " upwards", " downwards", " either way"),
)
WANDER = Quantity(
    "drift-wander", "wander about the drift", "Hz", meaning="how far a count lies from the straight line at most"
)
MAINS = Quantity(
    "mains-shift",
    "change with the mains from 10 % low to 10 % high",
    "Hz",
    meaning="how far the oscillator moves when the mains voltage rises by a fifth",
)
MEANING = "An oscillator that drifts takes a station out of tune while one listens."
WORDS = ("the frequency, every half a minute for ten minutes to an hour", PULLING)

GATE_S, INTERVAL_S = 1.0, 30.0
LEAST_S, LONGEST_S = 600.0, 3600.0
MINUTES_AN_HOUR, S_AN_HOUR = 60.0, 3600.0
MOST_LOST = 5
MAINS_WAIT_S, MAINS_COUNTS = 120.0, 5
MAINS_AT = (("10 % low", -1.0), ("10 % high", 1.0))
CAN_VARY = (
    "Can you vary the receiver's mains voltage by 10 %, with an isolating variable transformer? Answer no where you "
    "have none: the drift is measured all the same."
)
NO, YES = "no", "yes"
_SAY_RATE = in_unit(RATE.unit, "{:.3g}")


@dataclass(slots=True)
class _Course:
    """The counts so far."""

    limit_hz: float
    time_s: list[float] = field(default_factory=list)
    count_hz: list[float] = field(default_factory=list)

    @property
    def passed_s(self) -> float:
        """Give how long it was counted."""
        return self.time_s[-1] - self.time_s[0] if self.time_s else 0.0

    def rate(self) -> Estimate:
        """Give the drift in Hz an hour, as a straight line through all counts."""
        a_minute = drift_rate(self.time_s, self.count_hz, count_sigma_hz(self.count_hz[-1], GATE_S))
        return Estimate(MINUTES_AN_HOUR * a_minute.value, MINUTES_AN_HOUR * a_minute.sigma)

    def wander_hz(self) -> float:
        """Give the greatest distance of a count from that line."""
        time_s = np.array(self.time_s) - np.mean(self.time_s)
        off_hz = np.array(self.count_hz) - np.mean(self.count_hz)
        return float(np.max(np.abs(off_hz - time_s * (time_s @ off_hz) / (time_s @ time_s))))

    def has_ended(self) -> bool:
        """Tell whether the drift is decided against its limit, or its time is up."""
        if self.passed_s < LEAST_S:
            return False
        allowed = Tolerance(-self.limit_hz, self.limit_hz)
        return self.passed_s >= LONGEST_S or standing(self.rate(), allowed) is not Standing.AT_LIMIT


def frequency_drift(task: Task) -> Procedure[StepOutcome]:
    """Count one oscillator; with the mains varied first where the person can, for then nobody need stay."""
    yield from connect(task.way.hookup, task.way.cautions)
    findings: list[Finding] = []
    course = _Course(task.step.limits[0].most)
    try:
        if (yield from choose("mains", CAN_VARY, (NO, YES))) == YES:
            findings += yield from _mains()
        while not course.has_ended():
            time_s, count_hz = yield from _count()
            course.time_s.append(time_s)
            course.count_hz.append(count_hz)
            left_s = max(LEAST_S - course.passed_s, 0.0)
            done = min(course.passed_s / max(LEAST_S, course.passed_s + INTERVAL_S), 1.0)
            yield from tell(Progress(done, left_s or None, f"Counting, {course.passed_s / 60.0:.0f} minutes so far"))
            if not course.has_ended():
                yield from settle(INTERVAL_S - GATE_S)
    except SequenceError as error:
        return StepOutcome(task.step.id, task.phase, (Finding(RATE, "", None, reason=str(error)), *findings))
    rate = course.rate()
    signs = Signs(nothing_to_turn=True)
    judged = judge_error("The drift of the warm oscillator", rate, course.limit_hz, _SAY_RATE, signs=signs)
    wander = Finding(WANDER, "", Estimate(course.wander_hz(), 0.0))
    advice = (f"It was counted for {course.passed_s / 60.0:.0f} minutes.",)
    return StepOutcome(task.step.id, task.phase, (Finding(RATE, "", rate, judged), wander, *findings), advice=advice)


def _count(purpose: str = "drift") -> Generator[Request, Any, tuple[float, float]]:
    """Take a count; give when, and how many Hz.

    Raises:
        SequenceError: the counter gives no frequency again and again.
    """
    for _ in range(MOST_LOST):
        reading = yield from count_frequency(GATE_S, purpose)
        if reading.value is not None and reading.value > 0.0:
            return reading.time_s, reading.value
    raise SequenceError(
        f"The counter gave no frequency {MOST_LOST} times in a row: lay the pick-up closer, and see that the receiver "
        "is on."
    )


def _mains() -> Generator[Request, Any, list[Finding]]:
    """Have the mains varied and put back; give what that does to the oscillator, or nothing where it cannot be."""
    counts: dict[float, list[float]] = {}
    for shown, sign in MAINS_AT:
        text = f"Set the mains voltage {shown}, within what the receiver's plate allows. Say done when it is set."
        if (yield from choose("mains voltage", text, (DONE, CANNOT))) == CANNOT:
            break
        yield from settle(MAINS_WAIT_S)
        counts[sign] = []
        for _ in range(MAINS_COUNTS):
            counts[sign].append((yield from _count("mains"))[1])
    yield from choose("mains voltage", "Set the mains voltage back to its nominal value. Say done when it is.", (DONE,))
    yield from settle(MAINS_WAIT_S)
    if len(counts) < len(MAINS_AT):
        return []
    low, high = (mean_of(counts[sign], count_sigma_hz(counts[sign][0], GATE_S)) for sign in (-1.0, 1.0))
    sigma_hz = float(np.hypot(low.for_few_repeats().sigma, high.for_few_repeats().sigma))
    return [Finding(MAINS, "", Estimate(high.value - low.value, sigma_hz))]


def _steps(receiver: Receiver) -> list[Step]:
    """Count the oscillator that the warm-up counts."""
    limit_hz, counted = receiver.limits.drift_hz_per_hour, drifting_oscillator(receiver)
    if limit_hz is None or counted is None:
        return []
    subject, point = counted
    key = subject.removeprefix("conversion.")
    is_conversion = key in receiver.conversions
    return [
        Step(
            id=FREQUENCY_DRIFT,
            kind=NAME,
            title="Frequency drift",
            subject=subject,
            places_from_detector=conversion_place(receiver, key) if is_conversion else 0,
            ways=(way(receiver, WayName.COUNT, at_rest_on_first_band(receiver), WORDS, counter=point),),
            limits=(Limit(RATE, limit_hz),),
            depends_on=(WARM_UP, *(conversion_step_ids(key) if is_conversion else ())),
            oscillators=oscillators_of(receiver, subject),
            meaning=MEANING,
            shown=Shown.OVER_TIME,
        )
    ]


KIND = Kind(NAME, _steps, frequency_drift, (RATE, WANDER, MAINS))
