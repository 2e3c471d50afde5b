"""What of a receiver can be scanned with the source and a meter alone: IF passbands and preselector responses."""

import math
from dataclasses import dataclass
from typing import Literal

from sequences.hookups import Hookup, cautions_for, hook_up
from sequences.receiver import IntermediateFrequency, MeterPoint, Receiver
from sequences.receiver_file import ReceiverFileError, load_receiver, shipped_receivers

__all__ = ["ReceiverFileError", "ScanTarget", "load_receiver", "scan_targets", "shipped_receivers"]

SPAN_IN_WIDTHS = 4.0
HZ_PER_KHZ = 1000.0


@dataclass(frozen=True, slots=True)
class ScanTarget:
    """One scan that makes sense: from where to where, how strong, and with which hookup."""

    id: str
    receiver_id: str
    receiver_name: str
    name: str
    kind: Literal["if passband", "preselector"]
    start_hz: float
    stop_hz: float
    level_dbm: float
    max_level_dbm: float
    settle_s: float
    detector: Literal["linear", "square", "calibrate"]
    nominal_centre_hz: float
    nominal_width_hz: float
    hookup: Hookup
    cautions: tuple[str, ...]


def scan_targets(receiver: Receiver) -> tuple[ScanTarget, ...]:
    """List what can be scanned: the narrowest fixed IF at each of its widths, then the preselector on every band.

    A wider IF before a narrower one is no target: a sweep of the source would show the narrower one.
    """
    return (*_passband_targets(receiver), *_preselector_targets(receiver))


def narrowest_if(receiver: Receiver) -> str:
    """Name the IF that sets the selectivity: of the fixed ones, the one whose widest setting is narrowest."""
    fixed = {key: entry for key, entry in receiver.ifs.items() if entry.centre_khz is not None}
    return min(fixed, key=lambda key: max(widths_khz(fixed[key]).values()))


def widths_khz(entry: IntermediateFrequency) -> dict[str | None, float]:
    """Give the 3 dB width in kHz for each choice of the width control, or for None where there is no such control."""
    if isinstance(entry.width_khz, dict):
        return {choice: width for choice, width in entry.width_khz.items()}  # noqa: C416 - widens the key's type
    return {None: entry.width_khz}


def preselector_width_khz(receiver: Receiver, band: str, frequency_khz: float) -> float:
    """Give the nominal 3 dB width in kHz: n equal circuits of loaded Q narrow to sqrt(2^(1/n) - 1) of f/Q.

    Source of the factor: Terman, Radio Engineers' Handbook (1943), section 3, cascaded tuned circuits.
    """
    quality = receiver.preselector.loaded_q
    loaded_q = quality[band] if isinstance(quality, dict) else quality
    return frequency_khz / loaded_q * math.sqrt(2 ** (1 / receiver.preselector.circuits) - 1)


def _passband_targets(receiver: Receiver) -> list[ScanTarget]:
    key = narrowest_if(receiver)
    entry = receiver.ifs[key]
    source = _first_source(receiver, key)
    meter, point = _meter_reading(receiver, "detector")
    targets = []
    for choice, width in widths_khz(entry).items():
        controls = {entry.width_control: choice} if entry.width_control and choice else {}
        name = f"{entry.name} passband" + (f", {choice}" if choice else "")
        hookup = hook_up(receiver, controls, source=source, meter=meter)
        ident = "-".join(filter(None, (receiver.id, key, "passband", _slug(choice))))
        targets.append(_target(receiver, ident, name, (entry.centre_khz or 0.0, width), hookup, point))
    return targets


def _preselector_targets(receiver: Receiver) -> list[ScanTarget]:
    meter, point = _meter_reading(receiver, "rf probe")
    source = _first_source(receiver, "signal")
    targets = []
    for band, mark, frequency in _preselector_settings(receiver):
        controls: dict[str, str | float] = {receiver.dial.control: mark}
        if receiver.band_control:
            controls[receiver.band_control] = band
        if receiver.preselector.control:
            controls[receiver.preselector.control] = receiver.preselector.knob_marks[band][1]
        where = f"{frequency / HZ_PER_KHZ:g} MHz" if receiver.band_control else f"{frequency:g} kHz"
        name = f"{receiver.preselector.name} at {where}"
        ident = f"{receiver.id}-preselector-{_slug(band if receiver.band_control else f'{frequency:g}')}"
        width = preselector_width_khz(receiver, band, frequency)
        hookup = hook_up(receiver, controls, source=source, meter=meter)
        targets.append(_target(receiver, ident, name, (frequency, width), hookup, point))
    return targets


def _preselector_settings(receiver: Receiver) -> list[tuple[str, float, float]]:
    """Give band, dial setting and signal frequency in kHz of each scan: mid-band, or the marks the file names."""
    settings = []
    for band, entry in receiver.bands.items():
        base = entry.low_khz if receiver.dial.reads == "above band edge" else 0.0
        middle = (entry.low_khz + entry.high_khz) / 2 - base
        settings += [(band, mark, base + mark) for mark in receiver.preselector.scan_marks_khz or (middle,)]
    return settings


def _first_source(receiver: Receiver, what: str) -> str:
    """Name the point that has the whole of `what` behind it: the first in the signal's order that it may enter."""
    return next(name for name, point in receiver.source_points.items() if what in point.enters)


def _meter_reading(receiver: Receiver, reads: str) -> tuple[str, MeterPoint]:
    return next((name, point) for name, point in receiver.meter_points.items() if point.reads == reads)


def _target(
    receiver: Receiver, ident: str, name: str, band_khz: tuple[float, float], hookup: Hookup, meter: MeterPoint
) -> ScanTarget:
    centre_hz, width_hz = band_khz[0] * HZ_PER_KHZ, band_khz[1] * HZ_PER_KHZ
    reach_hz = _rounded_up(width_hz * SPAN_IN_WIDTHS / 2)
    source = receiver.source_points[hookup.source_to or ""]
    return ScanTarget(
        id=ident,
        receiver_id=receiver.id,
        receiver_name=receiver.name,
        name=name,
        kind="if passband" if meter.reads == "detector" else "preselector",
        start_hz=centre_hz - reach_hz,
        stop_hz=centre_hz + reach_hz,
        level_dbm=source.level_dbm,
        max_level_dbm=source.highest_level_dbm,
        settle_s=meter.settle_s,
        detector=meter.law,
        nominal_centre_hz=centre_hz,
        nominal_width_hz=width_hz,
        hookup=hookup,
        cautions=cautions_for(receiver, hookup),
    )


def _rounded_up(value: float) -> float:
    """Round up to two figures, so that a scan starts and stops at numbers a person can read."""
    unit = 10.0 ** (math.floor(math.log10(value)) - 1)
    return math.ceil(value / unit - 1e-9) * unit


def _slug(text: str | None) -> str:
    return "".join(c if c.isalnum() else "-" for c in (text or "").replace(" kHz", "khz"))
