"""What of a receiver can be scanned with the source and a meter alone: IF passbands and preselector responses."""

import math
from dataclasses import dataclass
from typing import Literal

from sequences.chain import widths_khz
from sequences.hookups import Hookup, cautions_for, hook_up
from sequences.preselector import preselector_settings
from sequences.receiver import SIGNAL, MeterPoint, Receiver
from sequences.receiver_file import ReceiverFileError, load_receiver, shipped_receivers
from sequences.windows import widest_khz

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
    fixed = [key for key, entry in receiver.ifs.items() if entry.centre_khz is not None]
    return min(fixed, key=lambda key: widest_khz(receiver, key))


def _passband_targets(receiver: Receiver) -> list[ScanTarget]:
    key = narrowest_if(receiver)
    entry = receiver.ifs[key]
    source = _first_source(receiver, key)
    detector = next(((name, point) for name, point in receiver.meter_points.items() if point.reads == "detector"), None)
    if detector is None:
        return []
    meter, point = detector
    targets = []
    for choice, width in widths_khz(entry).items():
        controls = {entry.width_control: choice} if entry.width_control and choice else {}
        name = f"{entry.name} passband" + (f", {choice}" if choice else "")
        hookup = hook_up(receiver, controls, source=source, meter=meter)
        ident = "-".join(filter(None, (receiver.id, key, "passband", _slug(choice))))
        targets.append(_target(receiver, ident, name, (entry.centre_khz or 0.0, width), hookup, point))
    return targets


def _preselector_targets(receiver: Receiver) -> list[ScanTarget]:
    probe = next(((name, point) for name, point in receiver.meter_points.items() if point.reads == "rf probe"), None)
    if probe is None:
        return []
    meter, point = probe
    source = _first_source(receiver, SIGNAL)
    targets = []
    for setting in preselector_settings(receiver):
        at = setting.at
        controls: dict[str, str | float] = {receiver.dial.control: at.dial_khz}
        if receiver.band_control:
            controls[receiver.band_control] = at.band
        if receiver.preselector.control and setting.knob_mark is not None:
            controls[receiver.preselector.control] = setting.knob_mark
        where = f"{at.signal_khz / HZ_PER_KHZ:g} MHz" if receiver.band_control else f"{at.signal_khz:g} kHz"
        ident = f"{receiver.id}-preselector-{_slug(at.band if receiver.band_control else f'{at.signal_khz:g}')}"
        hookup = hook_up(receiver, controls, source=source, meter=meter)
        name = f"{receiver.preselector.name} at {where}"
        targets.append(_target(receiver, ident, name, (at.signal_khz, setting.width_khz), hookup, point))
    return targets


def _first_source(receiver: Receiver, what: str) -> str:
    """Name the point that has the whole of `what` behind it: the first in the signal's order that it may enter."""
    return next(name for name, point in receiver.source_points.items() if what in point.enters)


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
