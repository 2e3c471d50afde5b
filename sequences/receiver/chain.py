"""The signal's path: which conversions and IFs it meets in which order, and what each is tuned to at a dial setting."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

from sequences.receiver.model import SIGNAL, Conversion, IntermediateFrequency, Receiver

Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class DialSetting:
    """One setting of band and dial. `travel` runs from 0 at the band's low end to 1 at its high end."""

    band: str
    dial_khz: float
    signal_khz: float
    travel: float


def dial_setting(receiver: Receiver, band: str, dial_khz: float) -> DialSetting:
    """Say what a dial reading in kHz means on a band."""
    entry = receiver.bands[band]
    signal_khz = _base_khz(receiver, band) + dial_khz
    return DialSetting(band, dial_khz, signal_khz, (signal_khz - entry.low_khz) / (entry.high_khz - entry.low_khz))


def dial_ends(receiver: Receiver, band: str) -> tuple[DialSetting, DialSetting]:
    """Give the low and the high end of a band."""
    entry, base_khz = receiver.bands[band], _base_khz(receiver, band)
    return (
        dial_setting(receiver, band, entry.low_khz - base_khz),
        dial_setting(receiver, band, entry.high_khz - base_khz),
    )


def mid_band(receiver: Receiver, band: str) -> DialSetting:
    """Give the middle of a band."""
    entry = receiver.bands[band]
    return dial_setting(receiver, band, (entry.low_khz + entry.high_khz) / 2 - _base_khz(receiver, band))


def dial_marks(receiver: Receiver, band: str) -> tuple[DialSetting, ...]:
    """Give the dial's marks on a band."""
    return tuple(dial_setting(receiver, band, mark) for mark in for_band(receiver.dial.marks_khz, band))


def for_band(value: Value | Mapping[str, Value], band: str) -> Value:
    """Give the value that counts on a band, of an entry that is the same for all or stands in a table by band."""
    return value[band] if isinstance(value, Mapping) else value


def conversions_in_order(receiver: Receiver) -> tuple[str, ...]:
    """Give the conversions' keys, the one that takes the signal first. Stops where the path is broken or turns back."""
    by_input = {entry.takes: key for key, entry in receiver.conversions.items()}
    path: list[str] = []
    at = SIGNAL
    while at in by_input and by_input[at] not in path:
        path.append(by_input[at])
        at = receiver.conversions[path[-1]].gives
    return tuple(path)


def ifs_in_order(receiver: Receiver) -> tuple[str, ...]:
    """Give the IFs' keys, first IF first."""
    return tuple(receiver.conversions[key].gives for key in conversions_in_order(receiver))


def oscillator_khz(conversion: Conversion, setting: DialSetting) -> float:
    """Give what the oscillator of a conversion should read at a dial setting. A tunable one runs straight."""
    if conversion.oscillator_range_khz is not None:
        return _straight(for_band(conversion.oscillator_range_khz, setting.band), setting.travel)
    if conversion.oscillator_khz is None:
        raise ValueError(f"oscillator {conversion.oscillator!r} has no frequency")
    return for_band(conversion.oscillator_khz, setting.band)


def if_khz(entry: IntermediateFrequency, setting: DialSetting) -> float:
    """Give the frequency of an IF at a dial setting: its centre, or where it has moved to with the dial."""
    if entry.range_khz is not None:
        return _straight(entry.range_khz, setting.travel)
    if entry.centre_khz is None:
        raise ValueError(f"IF {entry.name!r} has no frequency")
    return entry.centre_khz


def frequency_khz(receiver: Receiver, what: str, setting: DialSetting) -> float:
    """Give the frequency of the signal, or of the IF with that key, at a dial setting."""
    return setting.signal_khz if what == SIGNAL else if_khz(receiver.ifs[what], setting)


def widths_khz(entry: IntermediateFrequency) -> dict[str | None, float]:
    """Give the 3 dB width in kHz for each choice of the width control, or for None where there is no such control."""
    if isinstance(entry.width_khz, Mapping):
        return {choice: width for choice, width in entry.width_khz.items()}  # noqa: C416 - widens the key's type
    return {None: entry.width_khz}


def widest_khz(entry: IntermediateFrequency) -> float:
    """Give the 3 dB width in kHz at the widest choice of the width control."""
    return max(widths_khz(entry).values())


def _base_khz(receiver: Receiver, band: str) -> float:
    return receiver.bands[band].low_khz if receiver.dial.reads == "above band edge" else 0.0


def _straight(ends_khz: tuple[float, float], travel: float) -> float:
    return ends_khz[0] + (ends_khz[1] - ends_khz[0]) * travel
