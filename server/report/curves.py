"""The responses of a run: each sweep's readings and the curve that was fitted to them."""

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sequences.alignment.outcome import Finding, StepOutcome

HZ_IN_UNIT = {"Hz": 1.0, "kHz": 1e3}
SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Response:
    """One sweep. Levels are in dB below the curve's own peak, so that two sweeps can be laid over each other.

    `curve` and `readings` are pairs of Hz and dB; `centre_hz` and `width_hz` are None where the fit gave none.
    """

    where: str
    centre_hz: float | None
    width_hz: float | None
    curve: tuple[tuple[float, float], ...]
    readings: tuple[tuple[float, float], ...]


def responses_of(run: Mapping[str, Any], outcome: StepOutcome) -> tuple[Response, ...]:
    """Give the sweeps of a run that ended in a figure of its outcome, by the place that figure names.

    A sweep is told by its very centre, which the outcome holds to the last digit.
    """
    fitted = [event for event in run["events"] if event["kind"] == "CurveFitted"]
    begins = [0, *(event["seq"] for event in fitted)]
    responses = []
    for event, begin in zip(fitted, itertools.islice(begins, len(fitted)), strict=True):
        figures = event["figures"]
        where = _where(figures.get("centre_hz"), outcome)
        if where is not None and figures["curve"] is not None:
            levels = figures.get("levels")
            read = _levels(run, begin, event["seq"]) if levels is None else _pairs(levels)
            responses.append(_response(where, figures, read))
    return tuple(responses)


def _where(centre_hz: float | None, outcome: StepOutcome) -> str | None:
    """Find the place of the centre; the last such figure of a run stands for its end."""
    if centre_hz is None:
        return None
    matching = [each for each in outcome.findings if each.name == "centre" and _is_at(each, centre_hz)]
    return matching[-1].where if matching else None


def _is_at(finding: Finding, centre_hz: float) -> bool:
    if finding.figure is None or finding.unit not in HZ_IN_UNIT:
        return False
    return abs(finding.figure.value * HZ_IN_UNIT[finding.unit] - centre_hz) <= SAME * centre_hz


def _levels(run: Mapping[str, Any], begin: int, end: int) -> list[tuple[float, float]]:
    return [
        (row["frequency_hz"], row["level_db"])
        for row in run["readings"]
        if begin <= row["seq"] < end and row["used"] and row["level_db"] is not None
    ]


def _pairs(levels: Mapping[str, Any]) -> list[tuple[float, float]]:
    return list(zip(levels["frequency_hz"], levels["level_db"], strict=True))


def _response(where: str, figures: Mapping[str, Any], levels: list[tuple[float, float]]) -> Response:
    curve = _pairs(figures["curve"])
    top = figures["peak_level_db"]
    if top is None:
        top = max(level_db for _, level_db in curve)
    return Response(
        where=where,
        centre_hz=figures["centre_hz"],
        width_hz=figures["width_3db_hz"],
        curve=tuple((hz, level_db - top) for hz, level_db in curve),
        readings=tuple((hz, level_db - top) for hz, level_db in levels),
    )
