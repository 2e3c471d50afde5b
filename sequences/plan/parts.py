"""What the builders of steps share: ways with their cautions, adjusters as a step sees them, controls of a spot."""

from collections.abc import Mapping

from sequences.plan.content import Oscillator, StepAdjuster, Way, WayName
from sequences.receiver.cautions import cautions_for
from sequences.receiver.chain import DialSetting, mid_band, widths_khz
from sequences.receiver.hookups import hook_up
from sequences.receiver.model import DialEndsByBand, Receiver

Controls = Mapping[str, str | float]

PULLING = "the pick-up is loose, so the count is of the oscillator as it runs; only a pick-up too close pulls it"
COMPRESSED = (
    "the AGC line shows less than a detector would, and slowly, so its law is learnt from the source and each reading "
    "waits for it"
)


def way(
    receiver: Receiver,
    name: WayName,
    controls: Controls,
    words: tuple[str, str],
    *,
    source: str | None = None,
    meter: str | None = None,
    counter: str | None = None,
) -> Way:
    """Build a way; `words` says what is measured and why so."""
    hookup = hook_up(receiver, controls, source=source, meter=meter, counter=counter)
    measured, because = words
    if meter is not None and receiver.meter_points[meter].reads == "agc line":
        because = f"{because}; {COMPRESSED}"
    return Way(name, hookup, cautions_for(receiver, hookup), measured, because)


def adjusters_of(receiver: Receiver, *subjects: str) -> tuple[StepAdjuster, ...]:
    """List what moves these things; what was set in the factory is to be measured only."""
    return tuple(
        StepAdjuster(
            name=name,
            kind=entry.kind,
            measure_only=entry.factory_only,
            bands=entry.bands,
            end=entry.end,
            nudge_turns=entry.nudge_turns,
            clockwise=entry.clockwise,
        )
        for name, entry in receiver.adjusters.items()
        if entry.moves in subjects
    )


def oscillators_of(receiver: Receiver, *subjects: str) -> tuple[Oscillator, ...]:
    """List oscillators by reference, each with about where it runs; what the receiver does not have is left out."""
    found: list[Oscillator] = []
    for subject in subjects:
        beat = receiver.beat_oscillator
        if subject == "beat_oscillator" and beat is not None:
            found.append(Oscillator(subject, "beat oscillator", beat.centre_khz))
        entry = receiver.conversions.get(subject.removeprefix("conversion."))
        if entry is not None:
            khz = (
                entry.oscillator_khz if isinstance(entry.oscillator_khz, float) else _middle(entry.oscillator_range_khz)
            )
            found.append(Oscillator(subject, entry.oscillator, khz, entry.oscillator_kind == "crystal"))
    return tuple(found)


def _middle(ends_khz: DialEndsByBand) -> float | None:
    """Give the middle of a tunable oscillator's range, on its first band where each has its own."""
    pair = next(iter(ends_khz.values())) if isinstance(ends_khz, dict) else ends_khz
    return None if pair is None else 0.5 * (pair[0] + pair[1])


def tuned_to(receiver: Receiver, setting: DialSetting) -> dict[str, str | float]:
    """Give the controls that tune the receiver to a dial setting."""
    controls: dict[str, str | float] = {receiver.dial.control: setting.dial_khz}
    if receiver.band_control:
        controls[receiver.band_control] = setting.band
    return controls


def at_rest_on_first_band(receiver: Receiver) -> dict[str, str | float]:
    """Give the controls that tune the receiver to the middle of its first band."""
    return tuned_to(receiver, mid_band(receiver, next(iter(receiver.bands))))


def widest_open(receiver: Receiver) -> dict[str, str | float]:
    """Give the controls that set every IF to its widest."""
    controls: dict[str, str | float] = {}
    for entry in receiver.ifs.values():
        widths = widths_khz(entry)
        choice = max(widths, key=widths.__getitem__)
        if entry.width_control is not None and choice is not None:
            controls[entry.width_control] = choice
    return controls


def beat_oscillator_on(receiver: Receiver) -> dict[str, str | float]:
    """Give the control that switches the beat oscillator on, where it has one."""
    beat = receiver.beat_oscillator
    return {beat.control: "on"} if beat is not None and beat.control is not None else {}


def is_adjusted(receiver: Receiver, subject: str) -> bool:
    """Tell whether anything on the receiver may be turned for this."""
    return any(not adjuster.measure_only for adjuster in adjusters_of(receiver, subject))
