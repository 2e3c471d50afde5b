"""Figures as the page tells them: rounded to their uncertainty, beside their limit, the worst of several first."""

import math
from collections.abc import Iterable
from typing import Any, NamedTuple

from sequences.numerics.figures import Estimate
from server.fragments.sources import Json
from server.report.quantities import SHOWN, Scale, say_estimate, say_plain, scale_for

UNKNOWN = "\u2013"
AT_MOST, AT_LEAST = "at most", "at least"
NARROWEST, LIMIT_AT, WIDTH = 8.0, 33.0, 132.0
"""The small picture of a figure against its limit: a limit lies a quarter of the width from the middle."""


def say_value(value: float, sigma: float | None, unit: str) -> str:
    """Write a value with half its 95 % interval, both in one unit."""
    scale = scale_for(unit, (value, sigma or 0.0)) if unit == "V" else Scale(1.0, SHOWN.get(unit, unit))
    return say_estimate(Estimate(value, sigma or 0.0), scale)


def say_share_of(unit: str) -> str:
    """Say what a percentage is a share of, where the unit says so."""
    return unit[2:] if unit.startswith("% of ") else ""


def say_frequency(hz: float | None, sigma_hz: float | None = None) -> str:
    """Write a frequency with half its 95 % interval."""
    if hz is None:
        return UNKNOWN
    scale = scale_for("Hz", (hz,))
    return say_estimate(Estimate(hz, sigma_hz), scale) if sigma_hz else say_plain(hz * scale.factor, scale.unit)


def say_centre(scan: Json) -> str:
    """Write what a scan found: its centre and its width."""
    if scan["centre_hz"] is None:
        return "no centre found"
    width = scan["width_3db_hz"]
    wide = "" if width is None else f", {say_frequency(width)} wide"
    return f"{say_frequency(scan['centre_hz'], scan['centre_sigma_hz'])}{wide}"


def worst(findings: Iterable[Json]) -> Json | None:
    """Find the figure furthest out by its own limit, among those that have one; else the first that was measured."""
    kept = list(findings)
    judged = [each for each in kept if each["limit"] and each["standing"] is not None]
    if judged:
        return max(judged, key=_share)
    return next((each for each in kept if each["value"] is not None), kept[0] if kept else None)


def _share(finding: Json) -> float:
    """Say how far a figure is beyond its limit, as a share of it; below nought within it."""
    value, limit = finding["value"], finding["limit"]
    if value is None:
        return math.inf
    by_sense: dict[str, float] = {AT_MOST: value - limit, AT_LEAST: limit - value}
    beyond = by_sense.get(finding["sense"], abs(value) - abs(limit))
    share: float = beyond / abs(limit)
    return share


class LimitPicture(NamedTuple):
    """Where things lie in the small picture of a figure against its limit."""

    found: float | None
    left: float | None
    edges: list[float]
    zone: tuple[float, float]


def limit_picture_of(found: Json | None, left: Json | None) -> LimitPicture | None:
    """Place a figure as found and as left beside its limit, by what the limit means; None for nothing to see."""
    last = left or found
    limit = None if last is None else last["limit"]
    if last is None or not limit:
        return None
    ring, diamond = _place(found, limit), _place(left, limit)
    if ring is None and diamond is None:
        return None
    edge, middle = WIDTH / 2 + math.copysign(LIMIT_AT, limit), WIDTH / 2
    if last["sense"] == AT_LEAST:
        return LimitPicture(ring, diamond, [edge], (edge, WIDTH))
    if last["sense"] == AT_MOST:
        return LimitPicture(ring, diamond, [edge], (0.0, edge))
    return LimitPicture(ring, diamond, [middle - LIMIT_AT, middle + LIMIT_AT], (middle - LIMIT_AT, middle + LIMIT_AT))


def _place(finding: Json | None, limit: float) -> float | None:
    """Give where a figure lies; what is far off lies at the edge."""
    if finding is None or finding["value"] is None:
        return None
    at: float = WIDTH / 2 + finding["value"] / abs(limit) * LIMIT_AT
    return min(max(at, NARROWEST), WIDTH - NARROWEST)


def level_places(bands: Json) -> list[dict[str, float | None]]:
    """Place the levels of all bands on one scale, so that they compare: as found, as left and the limit."""
    levels = [
        (_value(row["activity"]["found"]), _value(row["activity"]["left"]), bands["limit_db"]) for row in bands["rows"]
    ]
    told = [level for row in levels for level in (*row, 0.0) if level is not None]
    low, span = min(told, default=0.0), (max(told, default=0.0) - min(told, default=0.0)) or 1.0
    room = 0.12

    def place(level: float | None) -> float | None:
        return None if level is None else ((level - low) / span + room) / (1 + 2 * room) * WIDTH

    return [dict(zip(("found", "left", "edge"), map(place, row), strict=True)) for row in levels]


def _value(finding: Json | None) -> float | None:
    value: float | None = None if finding is None else finding["value"]
    return value


def groups_of(rows: list[Json]) -> list[tuple[str, list[Json]]]:
    """Put figures of one place under its name, judged ones first; what stands alone needs no heading."""
    ranked = sorted(rows, key=lambda row: _last(row)["limit"] is None)
    places: dict[str, list[Json]] = {}
    for row in ranked:
        places.setdefault(row["where"], []).append(row)
    groups = {where: each for where, each in places.items() if where and len(each) > 1}
    if not groups:
        return [("", ranked)]
    alone = [row for row in ranked if row["where"] not in groups]
    judged = [row for row in alone if _last(row)["limit"] is not None]
    others = [row for row in alone if _last(row)["limit"] is None]
    return [each for each in (("", judged), *groups.items(), ("Other figures", others)) if each[1]]


def _last(row: Json) -> Json:
    last: Json = row["left"] or row["found"]
    return last


def names_in(bands: Json | None) -> set[str]:
    """Name the figures that the table of bands shows, so that they are not shown twice."""
    rows: list[Any] = [] if bands is None else bands["rows"]
    pairs = [pair for row in rows for pair in (row["volts"], row["activity"])]
    return {each["name"] for pair in pairs for each in (pair["found"], pair["left"]) if each is not None}


def common_reasons(bands: Json) -> list[str]:
    """Say once why levels are missing, where several bands miss theirs for one reason."""
    missing = [
        each["reason"]
        for row in bands["rows"]
        for each in row["activity"].values()
        if each is not None and each["value"] is None and each["reason"]
    ]
    return [reason for reason in dict.fromkeys(missing) if missing.count(reason) > 1]
