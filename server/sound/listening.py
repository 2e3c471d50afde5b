"""`peakwright listen`: what is heard on an input or in a file, as text or as one JSON object, or live."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from rich.console import Console
from rich.live import Live
from rich.text import Text

from sequences.numerics.figures import Estimate
from sequences.numerics.sound.hearing import Heard, hear
from sequences.numerics.wording import in_unit, say_hz
from server.errors import SoundInputError
from server.sound.port import Recording, SoundInput

LONGEST_S = 60.0
"""Listened to at most of one recording: what a person waits for, and what fits into memory many times over."""

LIVE_STRETCH_S = 0.15
QUIETEST_DBFS = -90.0
BAR = 40

_say_dbfs = in_unit("dBFS", "{:.1f}")
_CUT = f"Only the first {LONGEST_S:g} s were listened to."
_LOST = "Samples were lost during the recording. Stop other programs and record again."


@dataclass(frozen=True, slots=True)
class Listened:
    """What was heard, and whether a sentence about the recording itself is to be told too."""

    heard: Heard
    remarks: tuple[str, ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """All that is to be doubted."""
        return (*(doubt.text for doubt in self.heard.doubts), *self.remarks)


def listen_to(recording: Recording, between_hz: tuple[float, float] | None, *, cut: bool = False) -> Listened:
    """Hear what is in a recording.

    Raises:
        SoundInputError: it is too short to be listened to.
    """
    if between_hz is not None and between_hz[0] >= recording.rate_hz / 2:
        raise SoundInputError(
            f"The recording reaches up to {say_hz(recording.rate_hz / 2)} only. Give --between a range below that."
        )
    try:
        heard = hear(recording.samples, recording.rate_hz, _within(between_hz, recording.rate_hz))
    except ValueError as error:
        raise SoundInputError("The recording is too short. Record at least a tenth of a second.") from error
    remarks = (*([_CUT] if cut else []), *([_LOST] if recording.lost else []))
    return Listened(heard, remarks)


def _within(between_hz: tuple[float, float] | None, rate_hz: float) -> tuple[float, float] | None:
    return None if between_hz is None else (between_hz[0], min(between_hz[1], rate_hz / 2))


def plain_figures(listened: Listened) -> dict[str, Any]:
    """Give what was heard as plain values with units in their names, None where there is none."""
    heard = listened.heard
    return {
        "tone_hz": _value(heard.tone_hz),
        "tone_sigma_hz": _sigma(heard.tone_hz),
        "tone_level_dbfs": _value(heard.tone_level_dbfs),
        "tone_level_sigma_db": _sigma(heard.tone_level_dbfs),
        "noise_level_dbfs": heard.noise_level_dbfs,
        "noise_edge_hz": _value(heard.noise_edge_hz),
        "noise_edge_sigma_hz": _sigma(heard.noise_edge_hz),
        "clipped": heard.clipped,
        "doubts": list(listened.sentences),
    }


def _value(figure: Estimate | None) -> float | None:
    return None if figure is None else figure.value


def _sigma(figure: Estimate | None) -> float | None:
    return None if figure is None else figure.sigma


def text_of(listened: Listened) -> str:
    """Say what was heard, a line a figure."""
    heard = listened.heard
    lines = [
        ("Tone", None if heard.tone_hz is None else say_hz.known_to(heard.tone_hz)),
        ("Tone level", None if heard.tone_level_dbfs is None else _say_dbfs.known_to(heard.tone_level_dbfs)),
        ("Noise level", None if heard.noise_level_dbfs is None else _say_dbfs(heard.noise_level_dbfs)),
        ("Noise edge", None if heard.noise_edge_hz is None else say_hz.known_to(heard.noise_edge_hz)),
        ("SINAD", None if heard.sinad_db is None else f"{heard.sinad_db:.1f} dB"),
        ("Hum", None if heard.hum_hz is None else f"{heard.hum_hz:.2f} Hz, {heard.hum_level_dbfs:.1f} dBFS"),
    ]
    said = [f"{name:<12} {value}" for name, value in lines if value is not None]
    return "\n".join((*said, *(f"Doubt: {sentence}" for sentence in listened.sentences)))


def watch(
    sound: SoundInput,
    console: Console,
    between_hz: tuple[float, float] | None,
    goes_on: Callable[[], bool],
) -> Heard | None:
    """Show a level bar and the tone, redrawn as the sound comes, as long as it goes on. Gives what was heard last."""
    last: Heard | None = None
    with Live(Text("Listening..."), console=console, transient=False, auto_refresh=False) as live:
        for heard in _stretches(sound, between_hz, goes_on):
            last = heard
            live.update(_line(heard), refresh=True)
    return last


def _stretches(
    sound: SoundInput, between_hz: tuple[float, float] | None, goes_on: Callable[[], bool]
) -> Iterator[Heard]:
    while goes_on():
        recording = sound.record(LIVE_STRETCH_S)
        yield hear(recording.samples, recording.rate_hz, _within(between_hz, recording.rate_hz), with_edge=False)


def _line(heard: Heard) -> Text:
    level = heard.tone_level_dbfs.value if heard.tone_level_dbfs else heard.noise_level_dbfs or QUIETEST_DBFS
    filled = round(BAR * min(max(1 - level / QUIETEST_DBFS, 0.0), 1.0))
    bar = Text("█" * filled + "·" * (BAR - filled), style="red" if heard.clipped else "green")
    if heard.tone_hz is None or heard.tone_level_dbfs is None:
        said = "no tone"
    else:
        said = f"{say_hz.known_to(heard.tone_hz)}, {heard.tone_level_dbfs.value:.1f} dBFS"
    return Text.assemble(bar, "  ", said, "  OVERDRIVEN" if heard.clipped else "")
