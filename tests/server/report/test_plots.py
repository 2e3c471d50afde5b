"""Responses out of a run, and what is drawn of them."""

import xml.etree.ElementTree as ET
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.numerics.figures import Estimate
from server.report.curves import Response, responses_of
from server.report.dial_scale import DialScale, DialSeries
from server.report.plots import dial_plot, response_plot
from server.report.svg import Axis, tick_text
from tests.quantities import called

SVG = "{http://www.w3.org/2000/svg}"


def run_of(*centres_hz: float) -> dict[str, Any]:
    """Make a run of sweeps with three readings each; the last of each could not be used."""
    events, readings = [], []
    for number, centre_hz in enumerate(centres_hz):
        seq = 10 * number
        for place in range(3):
            hz = centre_hz + 500.0 * (place - 1)
            readings.append({"seq": seq + place, "frequency_hz": hz, "level_db": -40.0 - place, "used": place < 2})
        curve = {"frequency_hz": [centre_hz - 500.0, centre_hz, centre_hz + 500.0], "level_db": [-43.0, -40.0, -43.0]}
        figures = {"centre_hz": centre_hz, "width_3db_hz": 1000.0, "peak_level_db": -40.0, "curve": curve}
        events.append({"seq": seq + 5, "kind": "CurveFitted", "figures": figures})
    return {"events": events, "readings": readings}


def outcome_of(unit: str, **centres: float) -> StepOutcome:
    """Make an outcome with a centre at each place."""
    findings = tuple(Finding(called("centre", unit), where, Estimate(at, 0.1)) for where, at in centres.items())
    return StepOutcome("passband-third", Phase.AS_FOUND, findings)


def test_each_sweep_is_told_by_the_centre_it_came_to_and_has_its_own_readings() -> None:
    narrow, wide = responses_of(run_of(60_000.0, 61_000.0), outcome_of("Hz", wide=61_000.0, narrow=60_000.0))

    assert (narrow.where, wide.where) == ("narrow", "wide")
    assert narrow.curve == ((59_500.0, -3.0), (60_000.0, 0.0), (60_500.0, -3.0))
    assert narrow.readings == ((59_500.0, 0.0), (60_000.0, -1.0))
    assert wide.readings == ((60_500.0, 0.0), (61_000.0, -1.0))


def test_levels_that_no_single_reading_stands_for_come_with_their_curve() -> None:
    """As those read through the receiver's window, which was found anew for each."""
    run = run_of(60_000.0)
    figures = run["events"][0]["figures"]
    figures["levels"] = {"frequency_hz": [59_900.0, 60_300.0], "level_db": [-41.0, -42.5]}

    (response,) = responses_of(run, outcome_of("Hz", window=60_000.0))

    assert response.readings == ((59_900.0, -1.0), (60_300.0, -2.5))


def test_a_centre_in_khz_is_the_same_centre() -> None:
    (response,) = responses_of(run_of(3_750_123.4), outcome_of("kHz", band=3_750.1234))

    assert response.where == "band"


def test_a_sweep_that_no_figure_came_of_is_not_drawn() -> None:
    assert responses_of(run_of(60_000.0), outcome_of("Hz", elsewhere=60_001.0)) == ()


def response(centre_hz: float) -> Response:
    """Make a response of three points."""
    curve = ((centre_hz - 900.0, -6.0), (centre_hz, 0.0), (centre_hz + 900.0, -6.0))
    return Response("", centre_hz, 1000.0, curve, curve)


def drawn(svg: str, name: str) -> list[ET.Element]:
    """Give the elements of a name; the text must be sound XML."""
    return list(ET.fromstring(svg).iter(f"{SVG}{name}"))  # noqa: S314 - our own text


def test_as_found_and_as_left_differ_by_mark_and_stroke_and_not_by_colour_alone() -> None:
    svg = response_plot(response(60_000.0), response(60_100.0), 60_000.0, "A passband.")
    found, left = [line for line in drawn(svg, "polyline") if len((line.get("points") or "").split()) == 3]

    assert found.get("stroke-dasharray")
    assert left.get("stroke-dasharray") is None
    assert len(drawn(svg, "circle")) == 3 + 1, "readings, and one in the key"
    assert ET.fromstring(svg).get("aria-label") == "A passband."  # noqa: S314 - the same


def test_words_in_a_plot_cannot_become_markup() -> None:
    svg = response_plot(response(60_000.0), None, None, 'A "<b>" & more')

    assert ET.fromstring(svg).get("aria-label") == 'A "<b>" & more'  # noqa: S314 - our own text
    assert "<b>" not in svg


@pytest.mark.parametrize("errors", [(-10.0, -7.0), (0.2, -0.1), (3.0, -2.0), (0.0, 0.0)])
def test_dial_errors_lie_on_the_paper_with_the_limit_in_sight(errors: tuple[float, float]) -> None:
    """A mark above the line for a receiver that is too high."""
    series = DialSeries(((0.0, errors[0], 0.01), (500.0, errors[1], 0.01)))
    svg = dial_plot(DialScale(1.0, series, None), "The dial.")
    frame = ET.fromstring(svg).get("viewBox", "").split()  # noqa: S314 - our own text
    line = next(each for each in drawn(svg, "polyline") if each.get("stroke-dasharray"))
    points = [tuple(map(float, point.split(","))) for point in (line.get("points") or "").split()]
    band = drawn(svg, "rect")[0]

    assert all(0.0 < x < float(frame[2]) and 0.0 < y < float(frame[3]) for x, y in points)
    assert float(band.get("height", "0")) > 10.0
    assert (points[0][1] > points[1][1]) == (errors[0] < errors[1])


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6), st.integers(3, 9))
def test_ticks_are_round_a_step_of_one_two_or_five_apart_and_on_the_axis(low: float, length: float, about: int) -> None:
    ticks = Axis("", low, low + length, 0.0, 100.0).ticks(about)

    assert 1 <= len(ticks) <= about + 1
    assert all(low - 1e-6 * length <= tick <= low + length * (1 + 1e-6) for tick in ticks)
    if len(ticks) > 1:
        step = ticks[1] - ticks[0]
        assert f"{step:.0e}"[0] in "125"


def test_ticks_have_as_many_places_as_their_step() -> None:
    assert tick_text(0.25, 0.05) == "0.25"
    assert tick_text(-10.0, 5.0) == "\u221210"
    assert tick_text(59.5, 0.5) == "59.5"
