"""The settings at which the preselector is looked at, and how wide it should be there."""

import math
from dataclasses import dataclass

from sequences.receiver.chain import DialSetting, dial_setting, for_band, mid_band
from sequences.receiver.model import Receiver


@dataclass(frozen=True, slots=True)
class PreselectorSetting:
    """One setting of band, dial and knob with the 3 dB width in kHz wanted there. `knob_mark` is None for a gang."""

    at: DialSetting
    knob_mark: float | None
    width_khz: float


def preselector_settings(receiver: Receiver) -> tuple[PreselectorSetting, ...]:
    """List where the preselector is scanned: at the marks the file names, or else in the middle of every band."""
    entry = receiver.preselector
    settings = []
    for band in receiver.bands:
        marks = for_band(entry.scan_marks_khz, band)
        for at in [dial_setting(receiver, band, mark) for mark in marks] or [mid_band(receiver, band)]:
            width = preselector_width_khz(receiver, band, at.signal_khz)
            settings.append(PreselectorSetting(at, knob_mark(receiver, at), width))
    return tuple(settings)


def knob_mark(receiver: Receiver, at: DialSetting) -> float | None:
    """Give the knob position wanted at a dial setting, straight between the three the file gives for each band."""
    marks = receiver.preselector.knob_marks.get(at.band)
    if marks is None:
        return None
    low, middle, high = marks
    if at.travel <= 0.5:  # noqa: PLR2004 - half way
        return low + (middle - low) * at.travel * 2
    return middle + (high - middle) * (at.travel * 2 - 1)


def preselector_width_khz(receiver: Receiver, band: str, frequency_khz: float) -> float:
    """Give the nominal 3 dB width in kHz: n equal circuits of loaded Q narrow to sqrt(2^(1/n) - 1) of f/Q.

    Source of the factor: Terman, Radio Engineers' Handbook (1943), section 3, cascaded tuned circuits.
    """
    loaded_q = for_band(receiver.preselector.loaded_q, band)
    return frequency_khz / loaded_q * math.sqrt(2 ** (1 / receiver.preselector.circuits) - 1)
