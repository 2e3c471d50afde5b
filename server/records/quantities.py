"""Quantities as a record keeps them: by key, beside the words and the unit they had; and those of earlier records.

What this program does not know, it still shows by what the record says of it.
"""

import re
from dataclasses import asdict, replace
from typing import Any

from sequences.kinds import QUANTITIES
from sequences.quantities import Quantity, Sense

SINCE_NAMED = {
    ("3 dB width", "Hz"): "width-3db",
    ("3 dB width", "kHz"): "signal-width-3db",
    ("beat oscillator error", "Hz"): "beat-oscillator-error",
    ("bend at the high end", "kHz"): "dial-bend",
    ("centre", "Hz"): "centre",
    ("centre", "kHz"): "signal-centre",
    ("centre error", "% of the 3 dB width"): "centre-error",
    ("coupling kQ", ""): "coupling-kq",
    ("dial error", "kHz"): "dial-error",
    ("difference of the two ends", "Hz"): "end-difference",
    ("dip between the humps", "dB"): "hump-dip",
    ("disagreement of two injection points", "Hz"): "injection-disagreement",
    ("drift", "Hz a minute"): "drift",
    ("drift still to come", "Hz"): "drift-to-come",
    ("frequency error", "Hz"): "frequency-error",
    ("half of the silent zone", "Hz"): "half-silent-zone",
    ("highest note that passes", "Hz"): "highest-note",
    ("knob pointer error", "marks"): "knob-pointer-error",
    ("level gained", "dB"): "level-gained",
    ("level still to be gained", "dB"): "level-left",
    ("loaded Q", ""): "loaded-q",
    ("pointer shift that makes the worst error smallest", "kHz"): "pointer-shift",
    ("pull of the pick-up", "Hz"): "pick-up-pull",
    ("skew", "dB"): "skew",
    ("slope of the error over the scale", "kHz"): "dial-slope",
    ("source level for the same output", "dBm"): "source-level",
    ("test point voltage", "V"): "test-point-voltage",
    ("time", "minutes"): "warm-up-time",
    ("upper hump over lower hump", "dB"): "hump-difference",
    ("width error", "%"): "width-error",
    ("worst error after that shift", "kHz"): "dial-error-after-shift",
    ("zero beat behind the mixer", "Hz"): "zero-beat-behind",
}
"""The key of each figure that records named by words and unit alone."""

AGAINST_BAND = re.compile(r"activity against band (.+)")
DIAL_MARK = re.compile(r"(?:.*, )?([\d.]+) kHz")


def with_named_quantity(finding: dict[str, Any]) -> dict[str, Any]:
    """Write a finding with its quantity's name, unit and key in place of all that is known of the quantity."""
    quantity = finding["quantity"]
    name = quantity["words"].format(of=quantity["of"])
    kept = {"name": name, "unit": quantity["unit"], "sense": quantity["sense"], "of": quantity["of"]}
    return {**finding, **kept, "quantity": quantity["key"]}


def with_whole_quantity(finding: dict[str, Any]) -> dict[str, Any]:
    """Read a finding of any version with its whole quantity."""
    others = {key: value for key, value in finding.items() if key not in {"name", "unit", "sense", "of"}}
    name, unit = finding["name"], finding["unit"]
    if "quantity" not in finding:
        mark = DIAL_MARK.fullmatch(finding["where"]) if name == QUANTITIES["dial-error"].words else None
        others |= {"quantity": _named(name, unit), "mark": None if mark is None else float(mark[1])}
    else:
        others["quantity"] = _known(finding["quantity"], name, unit, finding["sense"], finding["of"])
    return {**others, "quantity": asdict(others["quantity"])}


def _named(name: str, unit: str) -> Quantity:
    """Give the quantity that an earlier record named."""
    against = AGAINST_BAND.fullmatch(name)
    if against is not None:
        return replace(QUANTITIES["activity"], of=against[1])
    return _known(SINCE_NAMED.get((name, unit), ""), name, unit, None, "")


def _known(key: str, name: str, unit: str, sense: str | None, of: str) -> Quantity:
    quantity = QUANTITIES.get(key)
    if quantity is None:
        words = name.replace("{", "{{").replace("}", "}}")
        return Quantity(key or name, words, unit, None if sense is None else Sense(sense), of=of)
    return replace(quantity, unit=unit, of=of)
