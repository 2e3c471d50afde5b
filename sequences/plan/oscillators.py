"""The steps that concern oscillators: warm-up, beat oscillator, fixed oscillators, dial, crystals, symmetry."""

from dataclasses import replace

from sequences.plan.content import Limit, Oscillator, Spot, Step, StepKind, Way, WayName
from sequences.plan.parts import (
    adjusters_of,
    at_rest_on_first_band,
    beat_oscillator_on,
    oscillators_of,
    tuned_to,
    way,
    widest_open,
)
from sequences.plan.places import (
    BEAT_OSCILLATOR,
    SYMMETRY,
    WARM_UP,
    conversion_place,
    if_place,
    passband_step,
    slug,
    steps_before_mixer,
)
from sequences.receiver.chain import conversions_in_order, dial_marks, for_band, frequency_khz, mid_band
from sequences.receiver.model import SIGNAL, Receiver
from sequences.receiver.points import counter_of, meter_that_reads, source_nearest_next_mixer, source_with_all_behind

PULLING = "the pick-up is loose, so the count is of the oscillator as it runs; only a pick-up too close pulls it"
NO_PULLING = "nothing touches the oscillator, and two beats give the error with its sign and no dead zone"
BY_EAR = "two edges just heard are split, where no counter is to be had"


def warm_up_steps(receiver: Receiver) -> list[Step]:
    """Let it warm up: count the oscillator that drifts most, a tunable one where it can be counted."""
    limits = (
        Limit("drift", receiver.limits.drift_hz_per_minute, "Hz a minute"),
        Limit("time", receiver.limits.longest_warm_up_minutes, "minutes"),
    )
    controls = at_rest_on_first_band(receiver)
    counted = _drifting_oscillator(receiver)
    if counted is None:
        words = (f"nothing: wait {receiver.limits.longest_warm_up_minutes:g} minutes", "no oscillator can be counted")
        return [_warm_up("receiver", way(receiver, WayName.WAIT, controls, words), limits)]
    subject, point = counted
    words = ("the frequency, once a while, until it no longer creeps", PULLING)
    counting = _warm_up(subject, way(receiver, WayName.COUNT, controls, words, counter=point), limits)
    return [replace(counting, oscillators=oscillators_of(receiver, subject))]


def beat_oscillator_steps(receiver: Receiver) -> list[Step]:
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
            kind=StepKind.OSCILLATOR,
            title="Beat oscillator",
            subject="beat_oscillator",
            places_from_detector=if_place(receiver, beat.intermediate),
            ways=ways,
            limits=(Limit("frequency error", limit, "Hz"),),
            adjusters=adjusters_of(receiver, "beat_oscillator"),
            nominal_khz=beat.centre_khz,
            spots=(Spot(None, None, beat.centre_khz),),
            depends_on=(WARM_UP,),
            oscillators=oscillators_of(receiver, "beat_oscillator"),
        )
    ]


def conversion_steps(receiver: Receiver) -> list[Step]:
    """Align each conversion's oscillator in the way its kind asks for."""
    steps: list[Step | None] = []
    for key in conversions_in_order(receiver):
        entry = receiver.conversions[key]
        tested = meter_that_reads(receiver, "oscillator activity", f"conversion.{key}")
        if entry.oscillator_kind == "tunable":
            steps.append(_dial_step(receiver, key))
        elif tested is not None:
            steps.append(_activity_step(receiver, key, tested[0]))
        else:
            steps.append(_fixed_step(receiver, key))
    return [step for step in steps if step is not None]


def symmetry_steps(receiver: Receiver) -> list[Step]:
    """Put the passband control's knob where both ends of its travel shift alike."""
    control, limit = receiver.passband_control, receiver.limits.passband_symmetry_hz
    if control is None or limit is None:
        return []
    intermediate = receiver.ifs[control.intermediate]
    source = source_with_all_behind(receiver, control.intermediate)
    detector = meter_that_reads(receiver, "detector")
    if source is None or detector is None or receiver.beat_oscillator is None:
        return []
    return [
        Step(
            id=SYMMETRY,
            kind=StepKind.SYMMETRY,
            title="Passband control symmetry",
            subject="passband_control",
            places_from_detector=if_place(receiver, control.intermediate),
            ways=_symmetry_ways(receiver, source, detector[0]),
            limits=(Limit("difference of the two ends", limit, "Hz"),),
            adjusters=adjusters_of(receiver, "passband_control"),
            nominal_khz=intermediate.centre_khz,
            spots=(Spot(None, None, intermediate.centre_khz),),
            depends_on=(WARM_UP, BEAT_OSCILLATOR, passband_step(control.intermediate)),
            oscillators=oscillators_of(receiver, "beat_oscillator"),
        )
    ]


def _symmetry_ways(receiver: Receiver, source: str, meter: str) -> tuple[Way, ...]:
    """Find the passband's edges with source and meter, and the beat oscillator with a counter or by ear."""
    measured = "the highest beat note that passes, with the control at one end and then at the other"
    heard = (measured, "where no counter is to be had, the beat oscillator is found by ear")
    by_ear = way(receiver, WayName.BY_EAR, {}, heard, source=source, meter=meter)
    point = counter_of(receiver, "beat_oscillator")
    if point is None:
        return (by_ear,)
    counted = (measured, "the two must be alike, and only the beat oscillator says where the middle is")
    return (way(receiver, WayName.EDGE_BEAT, {}, counted, source=source, meter=meter, counter=point), by_ear)


def _warm_up(subject: str, how: Way, limits: tuple[Limit, ...]) -> Step:
    return Step(
        id=WARM_UP,
        kind=StepKind.WARM_UP,
        title="Warm-up",
        subject=subject,
        places_from_detector=-1,
        ways=(how,),
        limits=limits,
    )


def _drifting_oscillator(receiver: Receiver) -> tuple[str, str] | None:
    """Give the reference and the counting point of the one to watch: tunable, or else any but a crystal."""
    for kind in ("tunable", "fixed"):
        for key, entry in receiver.conversions.items():
            point = counter_of(receiver, f"conversion.{key}")
            if entry.oscillator_kind == kind and point is not None:
                return f"conversion.{key}", point
    point = counter_of(receiver, "beat_oscillator")
    return None if point is None else ("beat_oscillator", point)


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
        kind=StepKind.OSCILLATOR,
        title=entry.oscillator.capitalize(),
        subject=f"conversion.{key}",
        places_from_detector=conversion_place(receiver, key),
        ways=ways,
        limits=(Limit("frequency error", receiver.limits.oscillator_hz, "Hz"),),
        adjusters=adjusters_of(receiver, f"conversion.{key}"),
        nominal_khz=entry.oscillator_khz if isinstance(entry.oscillator_khz, float) else None,
        spots=tuple(Spot(at.band, at.dial_khz, frequency_khz(receiver, entry.takes, at)) for at in settings),
        depends_on=(WARM_UP, BEAT_OSCILLATOR, *steps_before_mixer(receiver, key)),
        oscillators=oscillators_of(receiver, f"conversion.{key}"),
    )


def _dial_step(receiver: Receiver, key: str) -> Step | None:
    """Check the dial. What enters behind a band's own converter is the same on every band, so one band serves."""
    entry = receiver.conversions[key]
    source = source_nearest_next_mixer(receiver, entry.takes)
    detector = meter_that_reads(receiver, "detector")
    if source is None or detector is None:
        return None
    bands = list(receiver.bands) if entry.takes == SIGNAL else list(receiver.bands)[:1]
    marks = [at for band in bands for at in dial_marks(receiver, band)]
    controls = tuned_to(receiver, marks[0])
    centre = ("where the passband's centre lies, with the dial at each mark", "the source finds where the receiver is")
    ways = [way(receiver, WayName.PASSBAND_CENTRE, controls, centre, source=source, meter=detector[0])]
    audio = counter_of(receiver, "audio")
    if receiver.beat_oscillator is not None and audio is not None:
        beat = ("the source's frequency at zero beat, with the dial at each mark", "a beat tells to a few hertz")
        controls |= beat_oscillator_on(receiver)
        ways.insert(
            0, way(receiver, WayName.ZERO_BEAT, controls, beat, source=source, meter=detector[0], counter=audio)
        )
    adjusters = adjusters_of(receiver, "dial", f"conversion.{key}")
    return Step(
        id=f"dial-{slug(key)}",
        kind=StepKind.DIAL,
        title="Dial",
        subject=f"conversion.{key}",
        places_from_detector=conversion_place(receiver, key),
        ways=tuple(ways),
        limits=(Limit("dial error", receiver.limits.dial_khz, "kHz"),),
        adjusters=adjusters,
        spots=tuple(Spot(at.band, at.dial_khz, frequency_khz(receiver, entry.takes, at)) for at in marks),
        depends_on=(WARM_UP, BEAT_OSCILLATOR, *steps_before_mixer(receiver, key)),
        moved_by=tuple(adjuster.name for adjuster in adjusters),
        oscillators=_from_here_on(receiver, key),
    )


def _from_here_on(receiver: Receiver, key: str) -> tuple[Oscillator, ...]:
    """List the oscillators that bring what enters before a mixer to zero beat: its own and all behind it."""
    order = conversions_in_order(receiver)
    behind = order[order.index(key) :]
    return oscillators_of(receiver, *(f"conversion.{each}" for each in behind), "beat_oscillator")


def _activity_step(receiver: Receiver, key: str, meter: str) -> Step:
    entry = receiver.conversions[key]
    limit = receiver.limits.activity_below_reference_db
    reference = entry.activity_reference_band or next(iter(receiver.bands))
    settings = [mid_band(receiver, band) for band in receiver.bands]
    words = (
        f"the voltage at the test point on each band, in dB against band {reference}",
        "more negative means stronger oscillation; a meter of 10 to 11 megohm loads the point as it always was",
    )
    return Step(
        id=f"activity-{slug(key)}",
        kind=StepKind.ACTIVITY,
        title=f"{entry.oscillator.capitalize()} activity",
        subject=f"conversion.{key}",
        places_from_detector=conversion_place(receiver, key),
        ways=(way(receiver, WayName.TEST_POINT, tuned_to(receiver, settings[0]), words, meter=meter),),
        limits=() if limit is None else (Limit(f"activity below band {reference}", limit, "dB"),),
        adjusters=adjusters_of(receiver, f"conversion.{key}"),
        nominal_khz=None if entry.oscillator_khz is None else for_band(entry.oscillator_khz, reference),
        spots=tuple(Spot(at.band, at.dial_khz, None) for at in settings),
        depends_on=(WARM_UP,),
    )
