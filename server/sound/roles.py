"""The sound of the receiver as the counter and the meter of a bench: one estimator, whatever the way in."""

from collections.abc import Callable
from typing import Literal

from sequences.engine.instruments import Mark, MeterReply
from sequences.errors import ReplyLost
from sequences.numerics.sound.hearing import Heard, hear
from server.errors import SoundInputError
from server.sound.port import SoundInput

ADDRESS = "sound"
METER_STRETCH_S = 0.3
SHORTEST_S = 0.05
TONE_SPAN_HZ = 40.0
"""Where a modulated source's tone is known, the meter listens so far to either side of it."""


def is_sound(address: str) -> bool:
    """Say whether an address means the sound of the receiver: `sound`, or `sound:NAME`."""
    return address == ADDRESS or address.startswith(f"{ADDRESS}:")


def input_name(address: str) -> str | None:
    """Give the name of the sound input in an address, None for the system's default."""
    return address.partition(":")[2] or None


class _SoundRole:
    """What both roles share: an input, and how it stands."""

    role: str

    def __init__(self, address: str, sound: SoundInput, between_hz: tuple[float, float] | None = None) -> None:
        self.address = address
        self.identity = f"sound input {sound.name}"
        self.state: Literal["ready", "lost"] = "ready"
        self.last_error: str | None = None
        self._sound = sound
        self._between_hz = between_hz

    def close(self) -> None:
        """Stop listening."""
        self._sound.close()

    def _hear(self, duration_s: float) -> Heard:
        try:
            recording = self._sound.record(max(duration_s, SHORTEST_S))
        except SoundInputError as error:
            self.state, self.last_error = "lost", str(error)
            raise ReplyLost(str(error)) from error
        return hear(recording.samples, recording.rate_hz, self._between_hz, with_edge=False)


class SoundCounter(_SoundRole):
    """The beat note's frequency."""

    role = "counter"

    def read_frequency(self, gate_s: float) -> MeterReply:
        """Listen for `gate_s` seconds and give the tone's frequency; not a number without a tone."""
        tone_hz = self._hear(gate_s).tone_hz
        return MeterReply(None, Mark.NOT_A_NUMBER) if tone_hz is None else MeterReply(tone_hz.value)


class SoundMeter(_SoundRole):
    """The tone's level, as a voltage whose full scale is 1 V: narrow-band, so that hum and noise do not count."""

    role = "meter"

    def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> MeterReply:  # noqa: ARG002 - done after it
        """Listen and give the tone's peak value; overload where the input clips, not a number without a tone."""
        heard = self._hear(METER_STRETCH_S)
        if heard.clipped:
            return MeterReply(None, Mark.OVERLOAD)
        if heard.tone_level_dbfs is None:
            return MeterReply(None, Mark.NOT_A_NUMBER)
        return MeterReply(float(10 ** (heard.tone_level_dbfs.value / 20)))
