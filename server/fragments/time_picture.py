"""A figure over the years as a small drawing: rings as found, diamonds as left, whiskers of the 95 % interval."""

from collections.abc import Callable, Sequence
from datetime import datetime

from markupsafe import Markup

from sequences.numerics.figures import Estimate
from server.fragments.sources import Json
from server.fragments.words import month_of
from server.report.quantities import say_plain

WIDTH, HEIGHT = 320.0, 120.0
LEFT, RIGHT, TOP, BOTTOM = 62.0, WIDTH - 8.0, 12.0, HEIGHT - 24.0
LABEL_GAP = 16.0

Scale = Callable[[float], float]


def time_picture(rows: Sequence[Json], unit: str) -> Markup:
    """Draw the rows of one figure, oldest first; the table beside it says the same."""
    times = [datetime.fromisoformat(row["at_utc"]).timestamp() for row in rows]
    lows = [row["value"] - _spread(row) for row in rows]
    highs = [row["value"] + _spread(row) for row in rows]
    x = _scale(times, LEFT + 8.0, RIGHT - 8.0)
    y = _scale([*lows, *highs], BOTTOM - 8.0, TOP + 8.0)
    low, high = min(lows), max(highs)
    parts = [Markup('<path class="time-picture__frame" d="M{} {}V{}H{}"/>').format(LEFT, TOP, BOTTOM, RIGHT)]
    if low <= 0.0 <= high:
        parts.append(Markup('<path class="time-picture__zero" d="M{} {:.1f}H{}"/>').format(LEFT, y(0.0), RIGHT))
    parts += [_line(rows, times, x, y), *(_mark(row, x(at), y) for row, at in zip(rows, times, strict=True))]
    parts += [*_value_marks(y, low, high, unit), *_month_marks(rows)]
    frame = Markup('<svg class="time-picture" viewBox="0 0 {:g} {:g}" aria-hidden="true">{}</svg>')
    return frame.format(WIDTH, HEIGHT, Markup().join(parts))


def _scale(values: Sequence[float], start: float, stop: float) -> Scale:
    low, high = min(values), max(values)
    return lambda value: start + (value - low) / (high - low) * (stop - start) if high > low else (start + stop) / 2


def _line(rows: Sequence[Json], times: Sequence[float], x: Scale, y: Scale) -> Markup:
    left = [(x(at), y(row["value"])) for row, at in zip(rows, times, strict=True) if row["phase"] == "as left"]
    if len(left) < 2:  # noqa: PLR2004 - one point is no line
        return Markup()
    return Markup('<polyline class="time-picture__line" points="{}"/>').format(
        " ".join(f"{across:.1f},{up:.1f}" for across, up in left)
    )


def _spread(row: Json) -> float:
    return Estimate(row["value"], row["sigma"] or 0.0).expanded


def _mark(row: Json, at: float, y: Scale) -> Markup:
    middle, spread = y(row["value"]), _spread(row)
    ends = y(row["value"] - spread), y(row["value"] + spread)
    whisker = Markup('<path class="time-picture__whisker" d="M{:.1f} {:.1f}V{:.1f}"/>').format(at, *ends)
    if row["phase"] == "as left":
        return whisker + Markup('<path class="limit__left" d="M{:.1f} {:.1f}l6 6-6 6-6-6z"/>').format(at, middle - 6.0)
    return whisker + Markup('<circle class="limit__found" cx="{:.1f}" cy="{:.1f}" r="5"/>').format(at, middle)


def _value_marks(y: Scale, low: float, high: float, unit: str) -> list[Markup]:
    values = [low, high] if high > low else [low]
    if low < 0.0 < high and min(y(low) - y(0.0), y(0.0) - y(high)) > LABEL_GAP:
        values.append(0.0)
    return [
        _text(LEFT - 6.0, y(value) + 4.0, "end", say_plain(value, unit if value == high else "", figures=2))
        for value in values
    ]


def _month_marks(rows: Sequence[Json]) -> list[Markup]:
    first, last = month_of(rows[0]["at_utc"]), month_of(rows[-1]["at_utc"])
    if first == last:
        return [_text((LEFT + RIGHT) / 2, HEIGHT - 6.0, "middle", first)]
    return [_text(LEFT, HEIGHT - 6.0, "start", first), _text(RIGHT, HEIGHT - 6.0, "end", last)]


def _text(x: float, y: float, anchor: str, words: str) -> Markup:
    form = Markup('<text class="time-picture__text" x="{:.1f}" y="{:.1f}" text-anchor="{}">{}</text>')
    return form.format(x, y, anchor, words)
