"""A fixed oscillator: its error by count, by offset beat or by ear; its adjuster turned until the error is small."""

from collections.abc import Generator
from dataclasses import dataclass, field, replace
from typing import Any

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task, Turning
from sequences.engine.asks import set_controls
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_output
from sequences.errors import SequenceError
from sequences.numerics.adjusters.frequency_trim import NEAR_ENOUGH
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.part_drift import drift_behind
from sequences.numerics.verdicts.verdict import Judged, Signs, Verdict, judge_error
from sequences.numerics.wording import say_hz
from sequences.plan.content import Spot, StepAdjuster, WayName
from sequences.plan.parts import tuned_to
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.oscillators.frequency_gauge import HZ_PER_KHZ, Gauge, Known, Reading, gauge_for
from sequences.procedures.oscillators.frequency_turns import TrimEnd, trim, trim_live
from sequences.procedures.oscillators.pick_up import pull_doubt
from sequences.receiver.chain import DialSetting, dial_setting, mid_band, oscillator_khz

ERROR = "frequency error"
PULL = "pull of the pick-up"
DISAGREEMENT = "disagreement of two injection points"
SHARED = (
    "Nothing may be let in behind this mixer, so the beat oscillator's own error is in the figure: set that one first."
)
EAR_NUDGES = 3.0
"""By ear each look costs a person several answers, so that the first turn is a long one."""

BEHIND = "zero beat behind the mixer"
HALF_ZONE = "half of the silent zone"
LEFT_ALONE = "It was within its limit as found, and nothing was turned."


@dataclass(slots=True)
class _Report:
    """What the step has to say so far."""

    findings: list[Finding] = field(default_factory=list)
    advice: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)


def fixed_oscillator(task: Task) -> Procedure[StepOutcome]:
    """Measure, and where asked adjust, a beat oscillator or a conversion's fixed or crystal oscillator."""
    report, hand = _Report(), Hand()
    for spot in task.step.spots:
        try:
            yield from _at_spot(task, spot, report, hand)
        except SequenceError as error:
            report.findings.append(Finding(ERROR, _where(task, spot), "Hz", None, reason=str(error)))
    yield from set_output(False)
    doubts = tuple(dict.fromkeys(report.doubts))
    return StepOutcome(
        task.step.id, task.phase, tuple(report.findings), hand.turned(), tuple(report.advice), doubts, hand.stuck()
    )


def nominal_khz_at(task: Task, at: DialSetting) -> float:
    """Give what the oscillator should read at a dial setting.

    Raises:
        ValueError: the receiver file gives it no frequency.
    """
    if task.step.nominal_khz is not None:
        return task.step.nominal_khz
    return oscillator_khz(task.receiver.conversions[task.step.subject.removeprefix("conversion.")], at)


def _at_spot(task: Task, spot: Spot, report: _Report, hand: Hand) -> Generator[Request, Any, None]:
    at, where = _setting(task, spot), _where(task, spot)
    nominal_hz = nominal_khz_at(task, at) * HZ_PER_KHZ
    limit_hz = {limit.figure: limit.most for limit in task.step.limits}[ERROR]
    if spot.band is not None:
        yield from set_controls(tuned_to(task.receiver, at))
    gauge = gauge_for(task.receiver, task.way, task.step.subject, nominal_hz, at, limit_hz, _known(task, where))
    pull = yield from gauge.ready()
    if pull is not None:
        report.findings.append(Finding(PULL, where, "Hz", pull.moved_hz))
        report.doubts += pull_doubt(pull, limit_hz)
    end: TrimEnd | None = None
    known = _known(task, where).error_hz
    reading = yield from gauge.read(known if task.phase is Phase.ADJUST else None)
    if task.phase is Phase.ADJUST:
        reading, end = yield from _adjust(task, spot, gauge, reading, report, hand)
    _conclude(task, where, nominal_hz, reading, end, report)


def _known(task: Task, where: str) -> Known:
    """Give what the run before told. What lies behind the mixer is proved anew only once all turning is done."""
    before = task.before
    if before is None or task.phase is Phase.AS_FOUND:
        return Known()
    told = {one.name: one.figure for one in before.findings if one.where == where and one.when is None}
    behind_hz = told.get(BEHIND)
    stands = task.phase is Phase.ADJUST and behind_hz is not None
    return Known(told.get(ERROR), behind_hz, told.get(HALF_ZONE), behind_stands=stands)


def _adjust(
    task: Task, spot: Spot, gauge: Gauge, reading: Reading, report: _Report, hand: Hand
) -> Generator[Request, Any, tuple[Reading, TrimEnd | None]]:
    """Turn the adjuster where the error asks for it, and give the error as left."""
    found = _judge(task, _where(task, spot), reading.error_hz, Signs())
    if found.verdict is Verdict.LEAVE:
        report.advice.append(LEFT_ALONE)
        return reading, None
    report.findings.append(Finding(ERROR, _where(task, spot), "Hz", reading.error_hz, when=Phase.AS_FOUND))
    adjuster = _adjuster(task, spot)
    if adjuster is None:
        return reading, TrimEnd.NOTHING_TO_TURN
    if task.way.name is WayName.BY_EAR:
        adjuster = replace(adjuster, nudge_turns=EAR_NUDGES * adjuster.nudge_turns)
    watched = gauge.watched(NEAR_ENOUGH * found.limit) if task.turning is Turning.LIVE else None
    if watched is None:
        end, reading = yield from trim(adjuster, gauge, reading, found.limit, hand)
        return reading, end
    end = yield from trim_live(adjuster, watched, reading.error_hz, NEAR_ENOUGH * found.limit, hand)
    return (yield from gauge.read()), end


def _conclude(
    task: Task, where: str, nominal_hz: float, reading: Reading, end: TrimEnd | None, report: _Report
) -> None:
    """Enter the error with its verdict, and what follows from it."""
    judged = _judge(task, where, reading.error_hz, end.signs() if end is not None else Signs())
    report.findings.append(Finding(ERROR, where, "Hz", reading.error_hz, judged))
    if judged.verdict is Verdict.SUSPECT:
        actual = Estimate(nominal_hz + reading.error_hz.value, reading.error_hz.sigma)
        report.advice.append(drift_behind(nominal_hz, actual).text)
    if reading.shared:
        report.doubts.append(SHARED)
    for name, figure in ((BEHIND, reading.behind_hz), (HALF_ZONE, reading.half_zone_hz)):
        if figure is not None:
            report.findings.append(Finding(name, where, "Hz", figure))
    compared = reading.agreement
    if compared is not None:
        report.findings.append(Finding(DISAGREEMENT, where, "Hz", compared.difference_hz))
        report.advice.append(compared.text)


def _judge(task: Task, where: str, error_hz: Estimate, signs: Signs) -> Judged:
    limit_hz = {limit.figure: limit.most for limit in task.step.limits}[ERROR]
    name = f"{task.step.title}, band {where}," if where else task.step.title
    return judge_error(name, error_hz, limit_hz, say_hz, signs=signs)


def _adjuster(task: Task, spot: Spot) -> StepAdjuster | None:
    """Give the adjuster that may be turned for a band."""
    for adjuster in task.step.adjusters:
        serves = not adjuster.bands or spot.band in adjuster.bands
        if serves and not adjuster.measure_only:
            return adjuster
    return None


def _setting(task: Task, spot: Spot) -> DialSetting:
    if spot.band is None or spot.dial_khz is None:
        return mid_band(task.receiver, next(iter(task.receiver.bands)))
    return dial_setting(task.receiver, spot.band, spot.dial_khz)


def _where(task: Task, spot: Spot) -> str:
    """Name the band where the step looks at several."""
    return spot.band or "" if len(task.step.spots) > 1 else ""
