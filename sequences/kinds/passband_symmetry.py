"""Passband control symmetry: the highest beat note that passes, at one end of the control and at the other.

Equal notes mean that the knob stands right on its shaft; else the knob is turned on it. Both notes are told against
the beat oscillator, so nothing is measured until that is within its own limit.
"""

import dataclasses
from collections.abc import Generator
from dataclasses import dataclass
from typing import Any

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.engine.asks import set_controls
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_output
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.control_symmetry import PassbandEdges, Symmetry, symmetry
from sequences.numerics.verdicts.verdict import Judged, Signs, Verdict, judge_error
from sequences.numerics.wording import say_hz
from sequences.plan.content import Limit, Spot, Step, StepAdjuster, Way, WayName
from sequences.plan.parts import adjusters_of, beat_oscillator_on, oscillators_of, way
from sequences.plan.places import BEAT_OSCILLATOR as BEAT_STEP
from sequences.plan.places import SYMMETRY, WARM_UP, if_place, passband_step
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.kind import Kind
from sequences.procedures.oscillators.frequency_gauge import BEAT_OSCILLATOR, HZ_PER_KHZ, gauge_for
from sequences.procedures.sweeps.scan import Detector, ScanResult, ScanSettings, scan
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.chain import mid_band
from sequences.receiver.model import Receiver
from sequences.receiver.points import counter_of, level_point, source_with_all_behind
from sequences.receiver.targets import ScanTarget, passband_targets

NAME = "passband control symmetry"
DIFFERENCE = Quantity(
    "end-difference",
    "difference of the two ends",
    "Hz",
    Sense.EITHER_WAY,
    "how unequal the two ends of the passband control are",
    Phrase("uneven by {size} between its two ends"),
)
NOTE = Quantity(
    "highest-note",
    "highest note that passes",
    "Hz",
    meaning="the highest tone heard at one end of the passband control",
)
BEAT = Quantity(
    "beat-oscillator-error",
    "beat oscillator error",
    "Hz",
    Sense.EITHER_WAY,
    "how far the beat oscillator is from its frequency",
    Phrase("{size}{way}", " high", " low", " off"),
)
MOST_ROUNDS = 4

EDGE_FRACTION = 0.003
"""How well the passband's centre must be known, one sigma, as a share of its width; its edges are then near as good."""

FINEST_MARKS = 0.005
"""A knob cannot be turned on its shaft by less."""


@dataclass(frozen=True, slots=True)
class _Measured:
    """One measurement: the two ends compared, and what is doubtful about it."""

    result: Symmetry
    doubts: tuple[str, ...]


def passband_symmetry(task: Task) -> Procedure[StepOutcome]:
    """Measure, and where asked adjust, where the passband control's knob stands on its shaft."""
    hand = Hand()
    findings: list[Finding] = []
    advice: list[str] = []
    doubts: list[str] = []
    try:
        beat_hz, finding = yield from _beat_oscillator(task)
        findings.append(finding)
        measured = yield from _measure(task, beat_hz)
        signs = Signs()
        if task.phase is Phase.ADJUST:
            findings.append(Finding(DIFFERENCE, "", measured.result.difference_hz, when=Phase.AS_FOUND))
            measured, signs = yield from _adjust(task, beat_hz, measured, hand)
        findings += _findings(task, measured.result, signs)
        advice += _advice(task, measured.result)
        doubts += measured.doubts
    except SequenceError as error:
        findings.append(Finding(DIFFERENCE, "", None, reason=str(error)))
    yield from set_output(False)
    return StepOutcome(
        task.step.id, task.phase, tuple(findings), hand.turned(), tuple(advice), tuple(doubts), hand.stuck()
    )


def _beat_oscillator(task: Task) -> Generator[Request, Any, tuple[Estimate, Finding]]:
    """Give the beat oscillator's frequency, and its error as a finding.

    Raises:
        SequenceError: it cannot be told, or is beyond its limit.
    """
    receiver, beat, limit_hz = task.receiver, task.receiver.beat_oscillator, task.receiver.limits.beat_oscillator_hz
    if beat is None or limit_hz is None:
        raise SequenceError("This receiver has no beat oscillator with a limit, so the two ends cannot be compared.")
    nominal_hz = beat.centre_khz * HZ_PER_KHZ
    on = {**task.way.hookup.controls, **beat_oscillator_on(receiver)}
    hookup = dataclasses.replace(task.way.hookup, controls=on)
    name = WayName.BY_EAR if task.way.name is WayName.BY_EAR else WayName.COUNT
    way = dataclasses.replace(task.way, name=name, hookup=hookup)
    at = mid_band(receiver, next(iter(receiver.bands)))
    gauge = gauge_for(receiver, way, BEAT_OSCILLATOR, nominal_hz, at, limit_hz, kept=task.kept)
    yield from gauge.ready()
    error_hz = (yield from gauge.read(Estimate(0.0, limit_hz))).error_hz
    judged = judge_error("The beat oscillator", error_hz, limit_hz, say_hz)
    if judged.beyond is not None and judged.beyond.value > 0.0:
        raise SequenceError(
            f"The beat oscillator is off by {say_hz(error_hz.value)}, and the two ends are told against it: bring it "
            f"within its limit of {say_hz(limit_hz)} first."
        )
    return Estimate(nominal_hz + error_hz.value, error_hz.sigma), Finding(BEAT, "", error_hz)


def _measure(task: Task, beat_hz: Estimate) -> Generator[Request, Any, _Measured]:
    """Scan the passband with the control at either end of its scale, the beat oscillator off.

    Raises:
        SequenceError: an edge cannot be told.
    """
    receiver = task.receiver
    name, low, high = control_scale(receiver)
    target = scan_target(receiver)
    ends: list[PassbandEdges] = []
    doubts: list[str] = []
    for mark in (low, high):
        yield from set_controls({**_off(receiver), name: mark})
        found = yield from scan(_settings(receiver, target))
        where = f"{name} at {mark:g}"
        ends.append(_edges(found, where))
        doubts += [f"With {where}: {doubt}" for doubt in found.doubts]
    try:
        result = symmetry(ends[0], ends[1], beat_hz, high - low)
    except ValueError as error:
        raise SequenceError(str(error)) from error
    return _Measured(result, tuple(doubts))


def _adjust(
    task: Task, beat_hz: Estimate, measured: _Measured, hand: Hand
) -> Generator[Request, Any, tuple[_Measured, Signs]]:
    """Turn the knob on its shaft until both ends are alike, or it cannot be turned, or turning no longer helps."""
    adjuster = _adjuster(task)
    for _ in range(MOST_ROUNDS):
        result = measured.result
        if _judge(task, result, Signs()).verdict is Verdict.LEAVE or abs(result.turn_marks.value) < FINEST_MARKS:
            return measured, Signs()
        if adjuster is None:
            return measured, Signs(nothing_to_turn=True)
        unit = task.receiver.controls[control_scale(task.receiver)[0]].unit or "mark"
        could = yield from hand.turn(adjuster.name, result.turn_marks.value, _why(result), unit)
        if not could:
            measured = yield from _measure(task, beat_hz)
            return measured, Signs(seized=not hand.turns, out_of_travel=bool(hand.turns))
        before = abs(result.difference_hz.value)
        measured = yield from _measure(task, beat_hz)
        if abs(measured.result.difference_hz.value) >= before:
            return measured, Signs(never_peaks=True)
    return measured, Signs()


def control_scale(receiver: Receiver) -> tuple[str, float, float]:
    """Give the passband control's name and the two ends of its scale.

    Raises:
        SequenceError: the receiver has no such control with a scale.
    """
    entry = receiver.passband_control
    control = None if entry is None else receiver.controls[entry.control]
    if entry is None or control is None or control.low is None or control.high is None:
        raise SequenceError("This receiver has no passband control with a scale.")
    return entry.control, control.low, control.high


def scan_target(receiver: Receiver) -> ScanTarget:
    """Give the passband's scan at the width that stands when the receiver is at rest.

    Raises:
        SequenceError: there is no such scan.
    """
    entry = receiver.passband_control
    targets = () if entry is None else passband_targets(receiver, entry.intermediate)
    if not targets:
        raise SequenceError("Nothing gives access to the passband that the control shifts.")
    at_rest = receiver.controls_at_rest
    for target in targets:
        if all(at_rest.get(name, to) == to for name, to in target.hookup.controls.items()):
            return target
    return targets[0]


def _settings(receiver: Receiver, target: ScanTarget) -> ScanSettings:
    """Widen the target's sweep by the control's shift to either side."""
    shift_hz = 0.0 if receiver.passband_control is None else receiver.passband_control.shift_khz * HZ_PER_KHZ
    return ScanSettings(
        start_hz=target.start_hz - shift_hz,
        stop_hz=target.stop_hz + shift_hz,
        level_dbm=target.level_dbm,
        settle_s=target.settle_s,
        detector=Detector(target.detector),
        until_centre_fraction=EDGE_FRACTION,
        highest_dbm=target.max_level_dbm,
    )


def _off(receiver: Receiver) -> dict[str, str | float]:
    """Switch the beat oscillator off: what it brings to the detector would be read as signal."""
    on = beat_oscillator_on(receiver)
    return {name: receiver.controls_at_rest.get(name, "off") for name in on}


def _edges(found: ScanResult, where: str) -> PassbandEdges:
    lower, upper = found.fit.lower_3db, found.fit.upper_3db
    if lower is None or upper is None:
        why = " ".join(found.doubts) or "the readings show no passband."
        raise SequenceError(f"With {where} the passband's edges could not be told: {why}")
    return PassbandEdges(_plain(lower), _plain(upper))


def _plain(figure: Estimate) -> Estimate:
    """Give the figure as plain numbers, which a record can keep."""
    return Estimate(float(figure.value), float(figure.sigma))


def _judge(task: Task, result: Symmetry, signs: Signs) -> Judged:
    limit_hz = {limit.quantity: limit.most for limit in task.step.limits}[DIFFERENCE]
    return judge_error("The note at the control's high end", result.difference_hz, limit_hz, say_hz, signs=signs)


def _findings(task: Task, result: Symmetry, signs: Signs) -> list[Finding]:
    return [
        Finding(NOTE, "low end", result.low_end_hz),
        Finding(NOTE, "high end", result.high_end_hz),
        Finding(DIFFERENCE, "", result.difference_hz, _judge(task, result, signs)),
    ]


def _advice(task: Task, result: Symmetry) -> list[str]:
    """Say how far to turn the knob on its shaft, where that would help."""
    if _judge(task, result, Signs()).verdict in {Verdict.LEAVE, Verdict.MEASURE_AGAIN}:
        return []
    turn = result.turn_marks
    way = "up" if turn.value > 0.0 else "down"
    known = f" ± {turn.expanded:.2f}" if turn.expanded >= FINEST_MARKS else ""
    return [f"Turn the knob on its shaft by {abs(turn.value):.2f}{known} of a mark {way} its scale."]


def _adjuster(task: Task) -> StepAdjuster | None:
    return next((adjuster for adjuster in task.step.adjusters if not adjuster.measure_only), None)


def _why(result: Symmetry) -> str:
    return (
        f"The highest note is {say_hz(result.low_end_hz.value)} at the control's low end and "
        f"{say_hz(result.high_end_hz.value)} at its high end: hold the shaft and turn the knob on it."
    )


def _steps(receiver: Receiver) -> list[Step]:
    """Put the passband control's knob where both ends of its travel shift alike."""
    control, limit = receiver.passband_control, receiver.limits.passband_symmetry_hz
    if control is None or limit is None:
        return []
    intermediate = receiver.ifs[control.intermediate]
    source = source_with_all_behind(receiver, control.intermediate)
    detector = level_point(receiver)
    if source is None or detector is None or receiver.beat_oscillator is None:
        return []
    return [
        Step(
            id=SYMMETRY,
            kind=NAME,
            title="Passband control symmetry",
            subject="passband_control",
            places_from_detector=if_place(receiver, control.intermediate),
            ways=_ways(receiver, source, detector[0]),
            limits=(Limit(DIFFERENCE, limit),),
            adjusters=adjusters_of(receiver, "passband_control"),
            nominal_khz=intermediate.centre_khz,
            spots=(Spot(None, None, intermediate.centre_khz),),
            meaning="The passband control should move the passband as far one way as the other from its middle.",
            told_against=(BEAT_STEP,),
            depends_on=(WARM_UP, BEAT_STEP, passband_step(control.intermediate)),
            oscillators=oscillators_of(receiver, "beat_oscillator"),
        )
    ]


def _ways(receiver: Receiver, source: str, meter: str) -> tuple[Way, ...]:
    """Find the passband's edges with source and meter, and the beat oscillator with a counter or by ear."""
    measured = "the highest beat note that passes, with the control at one end and then at the other"
    heard = (measured, "where no counter is to be had, the beat oscillator is found by ear")
    by_ear = way(receiver, WayName.BY_EAR, {}, heard, source=source, meter=meter)
    point = counter_of(receiver, "beat_oscillator")
    if point is None:
        return (by_ear,)
    counted = (measured, "the two must be alike, and only the beat oscillator says where the middle is")
    return (way(receiver, WayName.EDGE_BEAT, {}, counted, source=source, meter=meter, counter=point), by_ear)


KIND = Kind(NAME, _steps, passband_symmetry, (DIFFERENCE, NOTE, BEAT))
