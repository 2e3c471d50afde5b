"""An oscillator's counts over time, out of a run and on paper."""

import xml.etree.ElementTree as ET
from typing import Any

import pytest

from server.report.over_time import Course, course_of
from server.report.plots import time_plot

SVG = "{http://www.w3.org/2000/svg}"


def row(time_s: float, value: float | None, purpose: str = "drift", role: str = "counter") -> dict[str, Any]:
    """Make a reading as a run keeps it."""
    return {"time_s": time_s, "value": value, "purpose": purpose, "role": role}


def test_counts_are_told_in_minutes_and_hertz_against_the_first() -> None:
    """What was counted for something else, or gave nothing, is left out."""
    readings = [row(1.0, 900.0, "mains"), row(30.0, 1000.0), row(60.0, None), row(90.0, 1004.0), row(150.0, 1006.0)]

    assert course_of({"readings": [*readings, row(160.0, 0.3, role="meter")]}) == Course(
        ((0.0, 0.0), (1.0, 4.0), (2.0, 6.0))
    )
    assert course_of({"readings": readings[:4]}) is None


@pytest.mark.parametrize("counts", [(0.0, 4.0, 6.0), (0.0, -400.0, -6000.0), (0.0, 0.0, 0.0)])
def test_every_count_lies_on_the_paper(counts: tuple[float, ...]) -> None:
    """Upwards, downwards, and where nothing moved."""
    course = Course(tuple((float(minute), hz) for minute, hz in enumerate(counts)))

    sheet = ET.fromstring(time_plot(course, None, "counts"))  # noqa: S314 - our own

    width, height = float(sheet.get("width", "0")), float(sheet.get("height", "0"))
    marks = [each for each in sheet.iter() if "count" in (each.get("class") or "")]
    assert marks
    for mark in sheet.iter(f"{SVG}rect"):
        assert 0.0 <= float(mark.get("x", "0")) <= width
        assert 0.0 <= float(mark.get("y", "0")) <= height
