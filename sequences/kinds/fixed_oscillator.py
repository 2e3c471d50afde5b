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
from sequences.numerics.wording import heading, say_hz
from sequences.plan.content import Limit, Spot, Step, StepAdjuster, Way, WayName
from sequences.plan.parts import PULLING, adjusters_of, beat_oscillator_on, oscillators_of, tuned_to, way, widest_open
from sequences.plan.places import (
    BEAT_OSCILLATOR,
    WARM_UP,
    conversion_place,
    if_place,
    slug,
    steps_before_mixer,
)
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.kind import Kind
from sequences.procedures.oscillators.frequency_gauge import HZ_PER_KHZ, Gauge, Known, Reading, gauge_for
from sequences.procedures.oscillators.frequency_turns import TrimEnd, trim, trim_live
from sequences.procedures.oscillators.pick_up import pull_doubt
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.chain import (
    DialSetting,
    conversions_in_order,
    dial_setting,
    frequency_khz,
    mid_band,
    oscillator_khz,
)
from sequences.receiver.model import SIGNAL, Receiver
from sequences.receiver.points import counter_of, meter_that_reads, source_nearest_next_mixer

NAME = "fixed oscillator"
ERROR = Quantity(
    "frequency-error",
    "frequency error",
    "Hz",
    Sense.EITHER_WAY,
    "how far an oscillator is from its frequency",
    Phrase("{size}{way}", " high", " low", " off"),
)
PULL = Quantity(
    "pick-up-pull",
    "pull of the pick-up",
    "Hz",
    meaning="how much the lead of the counter itself moved the oscillator",
)
DISAGREEMENT = Quantity(
    "injection-disagreement",
    "disagreement of two injection points",
    "Hz",
    meaning="how far two ways to the same figure differ",
)
MEANING = (
    "A fixed oscillator moves the signal from one filter to the next; off frequency, the signal misses the middle "
    "of the filters behind it."
)
BEAT_MEANING = (
    "The beat oscillator makes a bare carrier audible and speech without one intelligible; off frequency, tones and "
    "voices sound at the wrong pitch."
)
SHARED = (
    "Nothing may be let in behind this mixer, so the beat oscillator's own error is in the figure: set that one first."
)
EAR_NUDGES = 3.0
"""By ear each look costs a person several answers, so that the first turn is a long one."""

BEHIND = Quantity("zero-beat-behind", "zero beat behind the mixer", "Hz")
HALF_ZONE = Quantity("half-silent-zone", "half of the silent zone", "Hz")
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
            report.findings.append(Finding(ERROR, _where(task, spot), None, reason=str(error)))
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
    limit_hz = {limit.quantity: limit.most for limit in task.step.limits}[ERROR]
    if spot.band is not None:
        yield from set_controls(tuned_to(task.receiver, at))
    known = _known(task, where)
    gauge = gauge_for(task.receiver, task.way, task.step.subject, nominal_hz, at, limit_hz, known, task.kept)
    pull = yield from gauge.ready()
    if pull is not None:
        report.findings.append(Finding(PULL, where, pull.moved_hz))
        report.doubts += pull_doubt(pull, limit_hz)
    end: TrimEnd | None = None
    reading = yield from gauge.read(known.error_hz if task.phase is Phase.ADJUST else None)
    if task.phase is Phase.ADJUST:
        reading, end = yield from _adjust(task, spot, gauge, reading, report, hand)
    _conclude(task, where, nominal_hz, reading, end, report)


def _known(task: Task, where: str) -> Known:
    """Give what the run before told. What lies behind the mixer is proved anew only once all turning is done."""
    before = task.before
    if before is None or task.phase is Phase.AS_FOUND:
        return Known()
    told = {one.quantity: one.figure for one in before.findings if one.where == where and one.when is None}
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
    report.findings.append(Finding(ERROR, _where(task, spot), reading.error_hz, when=Phase.AS_FOUND))
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
    report.findings.append(Finding(ERROR, where, reading.error_hz, judged))
    if judged.verdict is Verdict.SUSPECT:
        actual = Estimate(nominal_hz + reading.error_hz.value, reading.error_hz.sigma)
        report.advice.append(drift_behind(nominal_hz, actual).text)
    if reading.shared:
        report.doubts.append(SHARED)
    for quantity, figure in ((BEHIND, reading.behind_hz), (HALF_ZONE, reading.half_zone_hz)):
        if figure is not None:
            report.findings.append(Finding(quantity, where, figure))
    compared = reading.agreement
    if compared is not None:
        report.findings.append(Finding(DISAGREEMENT, where, compared.difference_hz))
        report.advice.append(compared.text)


def _judge(task: Task, where: str, error_hz: Estimate, signs: Signs) -> Judged:
    limit_hz = {limit.quantity: limit.most for limit in task.step.limits}[ERROR]
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


NO_PULLING = "nothing touches the oscillator, and two beats give the error with its sign and no dead zone"
BY_EAR = "two edges just heard are split, where no counter is to be had"


def _steps(receiver: Receiver) -> list[Step]:
    """Set the beat oscillator, the last oscillator of all; and each fixed one that no test point tells of."""
    fixed = [_fixed_step(receiver, key) for key in conversions_in_order(receiver) if _is_counted(receiver, key)]
    return [*_beat_oscillator_steps(receiver), *(step for step in fixed if step is not None)]


def _is_counted(receiver: Receiver, key: str) -> bool:
    tested = meter_that_reads(receiver, "oscillator activity", f"conversion.{key}")
    return receiver.conversions[key].oscillator_kind != "tunable" and tested is None


def _beat_oscillator_steps(receiver: Receiver) -> list[Step]:
    """Set the beat oscillator, the last oscillator of all."""
    beat, limit = receiver.beat_oscillator, receiver.limits.beat_oscillator_hz
    if beat is None or limit is None:
        return []
    ways = _oscillator_ways(receiver, "beat_oscillator", source_nearest_next_mixer(receiver, beat.intermediate))
    if not ways:
        return []
    return [
        Step(
            id=BEAT_OSCILLATOR,
            kind=NAME,
            title="Beat oscillator",
            subject="beat_oscillator",
            places_from_detector=if_place(receiver, beat.intermediate),
            ways=ways,
            limits=(Limit(ERROR, limit),),
            adjusters=adjusters_of(receiver, "beat_oscillator"),
            nominal_khz=beat.centre_khz,
            spots=(Spot(None, None, beat.centre_khz),),
            depends_on=(WARM_UP,),
            meaning=BEAT_MEANING,
            oscillators=oscillators_of(receiver, "beat_oscillator"),
        )
    ]


def _fixed_step(receiver: Receiver, key: str) -> Step | None:
    entry = receiver.conversions[key]
    ways = _oscillator_ways(receiver, f"conversion.{key}", source_nearest_next_mixer(receiver, entry.takes))
    if not ways:
        return None
    each_band = isinstance(entry.oscillator_khz, dict)
    bands = list(receiver.bands) if each_band or entry.takes == SIGNAL else list(receiver.bands)[:1]
    settings = [mid_band(receiver, band) for band in bands]
    return Step(
        id=f"oscillator-{slug(key)}",
        kind=NAME,
        title=heading(entry.oscillator),
        subject=f"conversion.{key}",
        places_from_detector=conversion_place(receiver, key),
        ways=ways,
        limits=(Limit(ERROR, receiver.limits.oscillator_hz),),
        adjusters=adjusters_of(receiver, f"conversion.{key}"),
        nominal_khz=entry.oscillator_khz if isinstance(entry.oscillator_khz, float) else None,
        spots=tuple(Spot(at.band, at.dial_khz, frequency_khz(receiver, entry.takes, at)) for at in settings),
        depends_on=(WARM_UP, BEAT_OSCILLATOR, *steps_before_mixer(receiver, key)),
        meaning=MEANING,
        oscillators=oscillators_of(receiver, f"conversion.{key}"),
    )


def _oscillator_ways(receiver: Receiver, subject: str, source: str | None) -> tuple[Way, ...]:
    """Count it by a loose pick-up; or make it beat with the source, counted or heard."""
    ways: list[Way] = []
    point = counter_of(receiver, subject)
    if point is not None:
        controls = beat_oscillator_on(receiver) if subject == "beat_oscillator" else {}
        ways.append(way(receiver, WayName.COUNT, controls, ("the oscillator's frequency", PULLING), counter=point))
    if source is None or receiver.beat_oscillator is None:
        return tuple(ways)
    controls = {**beat_oscillator_on(receiver), **widest_open(receiver)}
    audio = counter_of(receiver, "audio")
    if audio is not None:
        words = ("the beat note with the source a little above and a little below", NO_PULLING)
        ways.append(way(receiver, WayName.OFFSET_BEAT, controls, words, source=source, counter=audio))
    ways.append(
        way(receiver, WayName.BY_EAR, controls, ("the two edges of silence around zero beat", BY_EAR), source=source)
    )
    return tuple(ways)


KIND = Kind(NAME, _steps, fixed_oscillator, (ERROR, PULL, DISAGREEMENT, BEHIND, HALF_ZONE))
