"""The report's plots: responses as found and as left over each other, the dial's errors, and what drifts over time."""

from collections.abc import Sequence
from dataclasses import dataclass

from server.report.curves import Response
from server.report.dial_scale import DialScale, DialSeries
from server.report.over_time import Course
from server.report.svg import FOUND, GOOD, GREY, INK, LEFT, RULE, Axis, Sheet, tick_text

AS_FOUND, AS_LEFT = "as found", "as left"
HZ_PER_KHZ = 1000.0
SMALL, WIDE = (336.0, 232.0), (690.0, 270.0)
MARGIN_LEFT, MARGIN_RIGHT, MARGIN_TOP, MARGIN_BOTTOM = 50.0, 12.0, 28.0, 42.0
REACH_IN_WIDTHS = 1.3
DEEPEST_DB, HEADROOM_DB = -30.0, 2.0
ROOM = 1.15
LEAST_REACH_HZ = 1.0


@dataclass(frozen=True, slots=True)
class _Frame:
    x: Axis
    y: Axis


def response_plot(found: Response | None, left: Response | None, nominal_hz: float | None, says: str) -> str:
    """Lay responses over each other, each in dB below its own peak, with the readings they were fitted to."""
    shown = [each for each in (found, left) if each is not None]
    low_hz, high_hz = _span(shown, nominal_hz)
    lowest_db = min((db for each in shown for hz, db in each.curve if low_hz <= hz <= high_hz), default=DEEPEST_DB)
    bottom_db = max(DEEPEST_DB, min(-6.0, lowest_db * 1.05))
    sheet = Sheet(*SMALL, says)
    x = ("frequency, kHz", low_hz / HZ_PER_KHZ, high_hz / HZ_PER_KHZ)
    frame = _framed(sheet, SMALL, x, ("level against the peak, dB", bottom_db, HEADROOM_DB))
    if nominal_hz is not None:
        _upright(sheet, frame, nominal_hz / HZ_PER_KHZ)
    _level(sheet, frame, -3.0103)
    for response, is_left in ((found, False), (left, True)):
        if response is not None:
            _draw_response(sheet, frame, response, is_left=is_left)
    _key(sheet, has_found=found is not None, has_left=left is not None)
    return sheet.markup()


def dial_plot(scale: DialScale, says: str, size: tuple[float, float] = WIDE) -> str:
    """Draw dial errors over the scale, with the band of the limit."""
    found, left, limit_khz = scale.found, scale.left, scale.limit_khz
    shown = [each for each in (found, left) if each is not None]
    marks = [mark for each in shown for mark, _, _ in each.points]
    sizes = [abs(error) for each in shown for _, error, _ in each.points]
    reach = ROOM * max(*sizes, limit_khz * ROOM)
    low, high = min(marks), max(marks)
    room = 0.03 * (high - low) or 1.0
    signed = [error for each in shown for _, error, _ in each.points]
    bottom = -reach if min(signed) < 0.0 else -limit_khz * ROOM**2
    top = reach if max(signed) > limit_khz else limit_khz * ROOM**2
    bottom = bottom if min(signed) < -limit_khz else -limit_khz * ROOM**2
    sheet = Sheet(*size, says)
    x = ("dial mark, kHz", low - room, high + room)
    frame = _framed(sheet, size, x, ("dial error, kHz", bottom, top), band=limit_khz)
    for series, is_left in ((found, False), (left, True)):
        if series is not None:
            _draw_series(sheet, frame, series, is_left=is_left)
    _key(sheet, has_found=found is not None, has_left=left is not None, band="within the limit")
    return sheet.markup()


def time_plot(found: Course | None, left: Course | None, says: str, size: tuple[float, float] = WIDE) -> str:
    """Draw counts over time, each course against its own first count."""
    shown = [each for each in (found, left) if each is not None]
    minutes = max(at for each in shown for at, _ in each.points)
    offsets = [hz for each in shown for _, hz in each.points]
    low, high = min(*offsets, 0.0), max(*offsets, 0.0)
    room = (ROOM - 1.0) * (high - low) or LEAST_REACH_HZ
    sheet = Sheet(*size, says)
    x = ("minutes since the first count", 0.0, minutes)
    frame = _framed(sheet, size, x, ("against the first count, Hz", low - room, high + room))
    for course, is_left in ((found, False), (left, True)):
        if course is not None:
            points = [(frame.x.place(at), frame.y.place(hz)) for at, hz in course.points]
            sheet.path(points, **_stroke(is_left=is_left))
            _mark(sheet, points, is_left=is_left, of="count")
    _key(sheet, has_found=found is not None, has_left=left is not None)
    return sheet.markup()


def _span(shown: Sequence[Response], nominal_hz: float | None) -> tuple[float, float]:
    ends = [end for each in shown for end in _span_of(each)]
    if nominal_hz is not None:
        ends.append(nominal_hz)
    return min(ends), max(ends)


def _span_of(response: Response) -> tuple[float, float]:
    low_hz, high_hz = response.curve[0][0], response.curve[-1][0]
    if response.centre_hz is None or response.width_hz is None:
        return low_hz, high_hz
    reach_hz = REACH_IN_WIDTHS * response.width_hz
    return max(low_hz, response.centre_hz - reach_hz), min(high_hz, response.centre_hz + reach_hz)


def _framed(
    sheet: Sheet,
    size: tuple[float, float],
    x: tuple[str, float, float],
    y: tuple[str, float, float],
    band: float | None = None,
) -> _Frame:
    """Draw both axes with their grid; a band about nought lies under the grid."""
    width, height = size
    frame = _Frame(
        Axis(*x, MARGIN_LEFT, width - MARGIN_RIGHT),
        Axis(*y, height - MARGIN_BOTTOM, MARGIN_TOP),
    )
    if band is not None:
        top, bottom = frame.y.place(band), frame.y.place(-band)
        sheet.box(frame.x.at_low, top, frame.x.at_high - frame.x.at_low, bottom - top, class_="limit__zone", fill=GOOD)
    _horizontal_axis(sheet, frame, about=8 if width > SMALL[0] else 5)
    _vertical_axis(sheet, frame)
    return frame


def _horizontal_axis(sheet: Sheet, frame: _Frame, about: int) -> None:
    axis, bottom, top = frame.x, frame.y.at_low, frame.y.at_high
    ticks = axis.ticks(about)
    step = ticks[1] - ticks[0] if len(ticks) > 1 else 1.0
    for tick in ticks:
        at = axis.place(tick)
        sheet.line(at, bottom, at, top)
        sheet.text(at, bottom + 14.0, tick_text(tick, step), text_anchor="middle")
    sheet.text((axis.at_low + axis.at_high) / 2, bottom + 33.0, axis.label, text_anchor="middle", fill=GREY)


def _vertical_axis(sheet: Sheet, frame: _Frame) -> None:
    axis, left, right = frame.y, frame.x.at_low, frame.x.at_high
    ticks = axis.ticks(5)
    step = ticks[1] - ticks[0] if len(ticks) > 1 else 1.0
    for tick in ticks:
        at = axis.place(tick)
        sheet.line(left, at, right, at)
        sheet.text(left - 5.0, at + 4.0, tick_text(tick, step), text_anchor="end")
    middle = (axis.at_low + axis.at_high) / 2
    turned = f"rotate(-90 13 {middle:.1f})"
    sheet.text(13.0, middle, axis.label, text_anchor="middle", fill=GREY, transform=turned)


def _upright(sheet: Sheet, frame: _Frame, at_khz: float) -> None:
    at = frame.x.place(at_khz)
    sheet.line(at, frame.y.at_low, at, frame.y.at_high, stroke=INK, stroke_width="0.8", stroke_dasharray="1 2")


def _level(sheet: Sheet, frame: _Frame, at_db: float) -> None:
    at = frame.y.place(at_db)
    sheet.line(frame.x.at_low, at, frame.x.at_high, at, stroke=GREY, stroke_width="0.6", stroke_dasharray="1 2")


def _draw_response(sheet: Sheet, frame: _Frame, response: Response, *, is_left: bool) -> None:
    curve, readings = (
        [
            (frame.x.place(hz / HZ_PER_KHZ), frame.y.place(db))
            for hz, db in points
            if frame.x.holds(hz / HZ_PER_KHZ) and frame.y.holds(db)
        ]
        for points in (response.curve, response.readings)
    )
    sheet.path(curve, **_stroke(is_left=is_left))
    _mark(sheet, readings, is_left=is_left)


def _draw_series(sheet: Sheet, frame: _Frame, series: DialSeries, *, is_left: bool) -> None:
    points = [(frame.x.place(mark), frame.y.place(error)) for mark, error, _ in series.points]
    sheet.path(points, **_stroke(is_left=is_left))
    for mark, error, sigma in series.points:
        at = frame.x.place(mark)
        ends = frame.y.place(error - 2.0 * sigma), frame.y.place(error + 2.0 * sigma)
        sheet.line(at, ends[0], at, ends[1], class_="whisker", stroke=LEFT if is_left else FOUND)
    _mark(sheet, points, is_left=is_left)


def _stroke(*, is_left: bool) -> dict[str, str]:
    if is_left:
        return {"class_": "left", "stroke": LEFT, "stroke_width": "1.6"}
    return {"class_": "found", "stroke": FOUND, "stroke_width": "1.3", "stroke_dasharray": "5 3"}


def _mark(sheet: Sheet, points: Sequence[tuple[float, float]], *, is_left: bool, of: str = "limit") -> None:
    if is_left:
        sheet.rounds(points, 1.9, class_=f"{of}__left", fill=LEFT)
    else:
        sheet.squares(points, 1.9, class_=f"{of}__found", fill="#ffffff", stroke=FOUND, stroke_width="0.9")


def _key(sheet: Sheet, *, has_found: bool, has_left: bool, band: str = "") -> None:
    at, middle = MARGIN_LEFT, 12.0
    for shown, is_left, word in ((has_found, False, AS_FOUND), (has_left, True, AS_LEFT)):
        if shown:
            sheet.path([(at, middle), (at + 26.0, middle)], **_stroke(is_left=is_left))
            _mark(sheet, [(at + 13.0, middle)], is_left=is_left, of="key")
            sheet.text(at + 31.0, middle + 4.0, word)
            at += 92.0
    if band:
        sheet.box(at, middle - 5.0, 26.0, 10.0, class_="key__zone", fill=GOOD, stroke=RULE)
        sheet.text(at + 31.0, middle + 4.0, band)
