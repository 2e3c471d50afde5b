"""What of a receiver can be scanned with the source and a meter alone: IF passbands and preselector responses."""

import math
from dataclasses import dataclass
from typing import Literal

from sequences.receiver.cautions import cautions_for
from sequences.receiver.chain import widths_khz
from sequences.receiver.file import ReceiverFileError, load_receiver, shipped_receivers
from sequences.receiver.hookups import Hookup, hook_up
from sequences.receiver.model import SIGNAL, MeterPoint, Receiver
from sequences.receiver.points import level_point, meter_that_reads, source_with_all_behind, swept_ifs
from sequences.receiver.preselector import PreselectorSetting, preselector_settings

__all__ = ["ReceiverFileError", "ScanTarget", "load_receiver", "scan_targets", "shipped_receivers"]

SPAN_IN_WIDTHS = {"if passband": 4.0, "preselector": 8.0}
"""Room for a response that is off and for the skirts a fit needs; a gang out of step is off by several widths."""

HZ_PER_KHZ = 1000.0

Kind = Literal["if passband", "preselector"]


@dataclass(frozen=True, slots=True)
class ScanTarget:
    """One scan that makes sense: from where to where, how strong, and with which hookup."""

    id: str
    receiver_id: str
    receiver_name: str
    name: str
    kind: Kind
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
    """List what can be scanned: each IF at each of its widths, then the preselector on every band.

    A wider IF before a narrower one is no target: a sweep of the source would show the narrower one.
    """
    passbands = [target for key in swept_ifs(receiver) for target in passband_targets(receiver, key)]
    return (*passbands, *preselector_targets(receiver))


def passband_targets(receiver: Receiver, key: str) -> tuple[ScanTarget, ...]:
    """List the scans of one IF's passband, one a width. None where no point gives access."""
    entry = receiver.ifs[key]
    source = source_with_all_behind(receiver, key)
    detector = level_point(receiver)
    if source is None or detector is None:
        return ()
    meter, point = detector
    targets = []
    for choice, width in widths_khz(entry).items():
        controls = {entry.width_control: choice} if entry.width_control and choice else {}
        hookup = hook_up(receiver, controls, source=source, meter=meter)
        name = f"{entry.name} passband" + (f", {choice}" if choice else "")
        ident = "-".join(filter(None, (receiver.id, _slug(key), "passband", _slug(choice))))
        targets.append(_target(receiver, (ident, name), (entry.centre_khz or 0.0, width), hookup, point))
    return tuple(targets)


def preselector_targets(receiver: Receiver) -> tuple[ScanTarget, ...]:
    """List the scans of the preselector with a probe at the first mixer. None where no point gives access."""
    probe = meter_that_reads(receiver, "rf probe")
    source = source_with_all_behind(receiver, SIGNAL)
    if probe is None or source is None:
        return ()
    meter, point = probe
    targets = []
    for setting in preselector_settings(receiver):
        hookup = hook_up(receiver, preselector_controls(receiver, setting), source=source, meter=meter)
        band_khz = (setting.at.signal_khz, setting.width_khz)
        targets.append(_target(receiver, _preselector_title(receiver, setting), band_khz, hookup, point))
    return tuple(targets)


def preselector_controls(receiver: Receiver, setting: PreselectorSetting) -> dict[str, str | float]:
    """Give how band, dial and knob stand for one look at the preselector."""
    controls: dict[str, str | float] = {receiver.dial.control: setting.at.dial_khz}
    if receiver.band_control:
        controls[receiver.band_control] = setting.at.band
    if receiver.preselector.control and setting.knob_mark is not None:
        controls[receiver.preselector.control] = setting.knob_mark
    return controls


def _preselector_title(receiver: Receiver, setting: PreselectorSetting) -> tuple[str, str]:
    at = setting.at
    where = f"{at.signal_khz / HZ_PER_KHZ:g} MHz" if receiver.band_control else f"{at.signal_khz:g} kHz"
    parts = [receiver.id, "preselector", _slug(at.band) if receiver.band_control else ""]
    if receiver.preselector.scan_marks_khz:
        parts.append(_slug(f"{at.dial_khz:g}"))
    return "-".join(filter(None, parts)), f"{receiver.preselector.name} at {where}"


def _target(
    receiver: Receiver, title: tuple[str, str], band_khz: tuple[float, float], hookup: Hookup, meter: MeterPoint
) -> ScanTarget:
    centre_hz, width_hz = band_khz[0] * HZ_PER_KHZ, band_khz[1] * HZ_PER_KHZ
    kind: Kind = "preselector" if meter.reads == "rf probe" else "if passband"
    reach_hz = _rounded_up(width_hz * SPAN_IN_WIDTHS[kind] / 2)
    source = receiver.source_points[hookup.source_to or ""]
    return ScanTarget(
        id=title[0],
        receiver_id=receiver.id,
        receiver_name=receiver.name,
        name=title[1],
        kind=kind,
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
    return "".join(c if c.isalnum() else "-" for c in (text or "").lower().replace(" khz", "khz"))
