"""SVG by the standard library's XML writer: what is drawn is escaped, and looks the same in HTML and in the PDF."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from xml.etree import ElementTree as ET

SVG = "http://www.w3.org/2000/svg"
FONTS = "Libertinus Serif, Georgia, serif"
INK, GREY, RULE = "#1a1a1a", "#55595f", "#d4d7db"
FOUND, LEFT, GOOD = "#b04a00", "#004f9e", "#e3eee3"
"""As found and as left differ by shape and stroke as well; these keep 4.5:1 on white."""

TEXT_PT = 11.0
STEPS = (1.0, 2.0, 5.0, 10.0)

Points = Iterable[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: what it counts, from where to where, over which stretch of the paper."""

    label: str
    low: float
    high: float
    at_low: float
    at_high: float

    def place(self, value: float) -> float:
        """Give where a value is drawn."""
        return self.at_low + (value - self.low) / (self.high - self.low) * (self.at_high - self.at_low)

    def holds(self, value: float) -> bool:
        """Tell whether a value is on the axis."""
        return self.low <= value <= self.high

    def ticks(self, about: int) -> tuple[float, ...]:
        """Give round values along the axis, about so many, a step of 1, 2 or 5 apart."""
        rough = (self.high - self.low) / about
        size = 10.0 ** math.floor(math.log10(rough))
        step = next(each * size for each in STEPS if each * size >= rough * 0.999)
        first, last = math.ceil(self.low / step - 1e-9), math.floor(self.high / step + 1e-9)
        return tuple(number * step for number in range(first, last + 1))


class Sheet:
    """A drawing under way."""

    def __init__(self, width: float, height: float, says: str) -> None:
        """Begin a sheet; `says` is read out where it cannot be seen."""
        frame = {"viewBox": f"0 0 {width:g} {height:g}", "width": f"{width:g}", "height": f"{height:g}"}
        self._root = ET.Element("svg", {"xmlns": SVG, "role": "img", "aria-label": says, **frame})

    def text(self, x: float, y: float, text: str, **style: str) -> None:
        """Write a text; its base line begins, is centred or ends at x."""
        fixed = {"x": _n(x), "y": _n(y), "font-family": FONTS, "font-size": _n(TEXT_PT), "fill": INK}
        self._add("text", {**fixed, **_dashed(style)}).text = text

    def line(self, x1: float, y1: float, x2: float, y2: float, **style: str) -> None:
        """Draw a straight line."""
        ends = {"x1": _n(x1), "y1": _n(y1), "x2": _n(x2), "y2": _n(y2)}
        self._add("line", {**ends, "stroke": RULE, **_dashed(style)})

    def box(self, x: float, y: float, width: float, height: float, **style: str) -> None:
        """Fill a rectangle."""
        self._add("rect", {"x": _n(x), "y": _n(y), "width": _n(width), "height": _n(height), **_dashed(style)})

    def path(self, points: Points, **style: str) -> None:
        """Join points by a line."""
        joined = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        self._add("polyline", {"points": joined, "fill": "none", **_dashed(style)})

    def rounds(self, points: Points, radius: float, **style: str) -> None:
        """Mark points by circles."""
        for x, y in points:
            self._add("circle", {"cx": _n(x), "cy": _n(y), "r": _n(radius), **_dashed(style)})

    def squares(self, points: Points, radius: float, **style: str) -> None:
        """Mark points by squares."""
        for x, y in points:
            self.box(x - radius, y - radius, 2 * radius, 2 * radius, **style)

    def markup(self) -> str:
        """Give the drawing as text."""
        return ET.tostring(self._root, encoding="unicode")

    def _add(self, name: str, attributes: Mapping[str, str]) -> ET.Element:
        return ET.SubElement(self._root, name, dict(attributes))


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _dashed(style: Mapping[str, str]) -> dict[str, str]:
    """Name attributes as SVG does; `class_` is what the page's style calls a part by."""
    return {name.rstrip("_").replace("_", "-"): value for name, value in style.items()}


def tick_text(value: float, step: float) -> str:
    """Write a tick's value with as many places as its step needs."""
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    return f"{value:.{places}f}".replace("-", "\u2212")
