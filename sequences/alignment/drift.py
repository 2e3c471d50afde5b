"""Drift since the warm-up: whether an oscillator that a step rests on may have moved by much of the step's limits.

Only one oscillator is counted while the receiver warms up. The others are warmed by the same chassis; how far they
drift is not known, and by the same share as the one counted is the best guess there is (common practice, no source).
"""

from dataclasses import dataclass

from sequences.alignment.outcome import Finding
from sequences.alignment.progress import Progress
from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.drift import S_PER_MINUTE, drifted_hz
from sequences.numerics.wording import say_hz
from sequences.plan.content import Oscillator, Step
from sequences.plan.order import Plan
from sequences.plan.places import WARM_UP
from sequences.quantities import Phrase, Quantity, Sense

SPOILT_SHARE = 0.5
"""Of a limit: a drift of more than this makes the verdict against it doubtful."""

HZ_IN_UNIT = {"Hz": 1.0, "kHz": 1000.0}
DRIFT = Quantity(
    "drift",
    "drift",
    "Hz a minute",
    Sense.EITHER_WAY,
    "how fast the oscillator still crept",
    Phrase("drifting by {size}"),
)
TO_COME = Quantity("drift-to-come", "drift still to come", "Hz")


@dataclass(frozen=True, slots=True)
class Drifted:
    """By how much an oscillator may have drifted in so many minutes, at most; None where nobody can tell.

    `counted`: whether it is the one that was counted, or is taken to drift by the same share.
    """

    name: str
    minutes: float
    most_hz: float | None
    counted: bool


@dataclass(frozen=True, slots=True)
class _WarmUp:
    """How fast the oscillator that was counted still drifted at the end, and how far it may drift altogether."""

    counted: Oscillator
    at_s: float
    rate_hz: float
    to_come_hz: float | None


def drift_warnings(plan: Plan, progress: Progress, step_id: str, now_s: float) -> tuple[str, ...]:
    """Warn where what a step rests on may have drifted since it was last measured by much of the step's limits."""
    step, drifted = plan.step(step_id), drift_since(plan, progress, step_id, now_s)
    most_hz = sum(each.most_hz or 0.0 for each in drifted)
    if not drifted:
        return ()
    return tuple(
        f"{step.title}: {'; '.join(_say(each) for each in drifted)}; that may be {say_hz(most_hz)} against a limit of "
        f"{limit.most:g} {limit.unit}: warm up again if the figure is close to it."
        for limit in step.limits
        if limit.unit in HZ_IN_UNIT and most_hz > SPOILT_SHARE * limit.most * HZ_IN_UNIT[limit.unit]
    )


def drift_since(plan: Plan, progress: Progress, step_id: str, now_s: float) -> tuple[Drifted, ...]:
    """Tell of each oscillator that a step rests on by how much it may have drifted since it was last measured.

    Empty where no drift was counted. A crystal drifts too little to count.
    """
    warm_up = _warm_up(plan, progress)
    if warm_up is None:
        return ()
    step = plan.step(step_id)
    return tuple(
        _drifted(each, warm_up, _measured_s(plan, progress, each, step), now_s)
        for each in step.oscillators
        if not each.crystal
    )


def _drifted(oscillator: Oscillator, warm_up: _WarmUp, measured_s: float | None, now_s: float) -> Drifted:
    since_s = max(measured_s or warm_up.at_s, warm_up.at_s)
    minutes = max(now_s - since_s, 0.0) / S_PER_MINUTE
    counted = oscillator.subject == warm_up.counted.subject
    if oscillator.khz is None or warm_up.counted.khz is None:
        share = 1.0 if counted else None
    else:
        share = oscillator.khz / warm_up.counted.khz
    if share is None:
        return Drifted(oscillator.name, minutes, None, counted)
    before_minutes = (since_s - warm_up.at_s) / S_PER_MINUTE
    most_hz = drifted_hz(warm_up.rate_hz, warm_up.to_come_hz, before_minutes, before_minutes + minutes)
    return Drifted(oscillator.name, minutes, share * most_hz, counted)


def _warm_up(plan: Plan, progress: Progress) -> _WarmUp | None:
    """Give what the latest warm-up that counted anything found."""
    step = next((one for one in plan.steps if one.id == WARM_UP), None)
    record = None if step is None else progress.record(step.id)
    if step is None or record is None or not step.oscillators:
        return None
    for each in reversed(record.measured):
        rate = _figure(each.outcome.findings, DRIFT)
        if rate is not None:
            to_come = _figure(each.outcome.findings, TO_COME)
            return _WarmUp(
                step.oscillators[0], each.at_s, abs(rate.value), None if to_come is None else abs(to_come.value)
            )
    return None


def _figure(findings: tuple[Finding, ...], quantity: Quantity) -> Estimate | None:
    return next((one.figure for one in findings if one.quantity == quantity and one.figure is not None), None)


def _measured_s(plan: Plan, progress: Progress, oscillator: Oscillator, step: Step) -> float | None:
    """Say when an oscillator was last measured by a step of its own, seconds after the epoch."""
    own = {one.id for one in plan.steps if one.subject == oscillator.subject and one.id != step.id}
    times = [record.measured[-1].at_s for record in progress.ended if record.step_id in own and record.measured]
    return max(times, default=None)


def _say(drifted: Drifted) -> str:
    if drifted.most_hz is None:
        return f"how far the {drifted.name} drifted in {drifted.minutes:.0f} minutes is not known"
    so_far = f"the {drifted.name} may have drifted by {say_hz(drifted.most_hz)} in {drifted.minutes:.0f} minutes"
    return so_far if drifted.counted else f"{so_far}, if by the same share as the one that was counted"
