"""How a dial is laid out: every mark of every band that its oscillator serves."""

from sequences.plan.content import Limit, Oscillator, Shown, Spot, Step, WayName
from sequences.plan.parts import adjusters_of, beat_oscillator_on, oscillators_of, tuned_to, way
from sequences.plan.places import BEAT_OSCILLATOR, WARM_UP, conversion_place, slug, steps_before_mixer
from sequences.procedures.dials.dial_findings import ERROR
from sequences.receiver.chain import conversions_in_order, dial_marks, frequency_khz
from sequences.receiver.model import SIGNAL, Receiver
from sequences.receiver.points import counter_of, level_point, source_nearest_next_mixer

NAME = "dial"


def steps(receiver: Receiver) -> list[Step]:
    """Check the dial of each tunable oscillator."""
    tunable = [key for key in conversions_in_order(receiver) if receiver.conversions[key].oscillator_kind == "tunable"]
    return [step for key in tunable if (step := _dial_step(receiver, key)) is not None]


def _dial_step(receiver: Receiver, key: str) -> Step | None:
    """Check the dial. What enters behind a band's own converter is the same on every band, so one band serves."""
    entry = receiver.conversions[key]
    source = source_nearest_next_mixer(receiver, entry.takes)
    detector = level_point(receiver)
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
        kind=NAME,
        title="Dial",
        subject=f"conversion.{key}",
        places_from_detector=conversion_place(receiver, key),
        ways=tuple(ways),
        limits=(Limit(ERROR, receiver.limits.dial_khz),),
        adjusters=adjusters,
        spots=tuple(Spot(at.band, at.dial_khz, frequency_khz(receiver, entry.takes, at)) for at in marks),
        depends_on=(WARM_UP, BEAT_OSCILLATOR, *steps_before_mixer(receiver, key)),
        moved_by=tuple(adjuster.name for adjuster in adjusters),
        meaning="The dial error is where the receiver really is, less what its dial says.",
        shown=Shown.OVER_THE_DIAL,
        oscillators=_from_here_on(receiver, key),
    )


def _from_here_on(receiver: Receiver, key: str) -> tuple[Oscillator, ...]:
    """List the oscillators that bring what enters before a mixer to zero beat: its own and all behind it."""
    order = conversions_in_order(receiver)
    behind = order[order.index(key) :]
    return oscillators_of(receiver, *(f"conversion.{each}" for each in behind), "beat_oscillator")
