"""Limits in words, and how a figure stands to its own, before and after."""

from sequences.alignment.outcome import Finding
from sequences.numerics.verdicts.verdict import Judged, Standing, Verdict
from sequences.quantities import Quantity, Sense
from server.report.content import Cell, Tone
from server.report.pairs import Pair
from server.report.quantities import NONE, PLUS_MINUS, Scale, say_estimate, say_plain, scale_for

SOME = 1e-4
"""A figure of less than this in its row's unit is shown in one of its own."""


def say_limit(pair: Pair, scale: Scale) -> str:
    """Write the limit of a figure."""
    judged = next((each for each in pair.judged[::-1] if each is not None), None)
    if judged is None:
        return NONE
    size = say_plain(judged.limit * scale.factor, scale.unit)
    return f"{PLUS_MINUS}{size}" if is_either_way(pair.quantity) else f"{pair.quantity.sense or Sense.AT_MOST} {size}"


def is_either_way(quantity: Quantity) -> bool:
    """Tell whether a figure may be off to either side."""
    return quantity.sense is Sense.EITHER_WAY


def row_scale(pair: Pair) -> Scale:
    """Choose the unit of a row: its figures and its limit stand side by side."""
    figures = [each.figure.value for each in (pair.found, pair.left) if each is not None and each.figure is not None]
    limits = [each.limit for each in pair.judged if each is not None]
    return scale_for(pair.unit, [*figures, *limits])


def say_figure(pair: Pair, finding: Finding | None, scale: Scale) -> str:
    """Write one figure of a row, with its sign where it is an error."""
    if finding is None:
        return NONE
    if finding.figure is None:
        stopped = finding.judged is not None and finding.judged.figure is None
        return "none" if stopped else "not measured"
    size = max(abs(finding.figure.value), finding.figure.sigma)
    own = scale_for(pair.unit, (size,))
    is_tiny = size * scale.factor < SOME and own.factor > scale.factor
    return say_estimate(finding.figure, own if is_tiny else scale, signed=is_either_way(pair.quantity))


def verdict_cell(pair: Pair, *, turned: bool) -> Cell:
    """Say in a sentence how the figure stood and stands."""
    found, left = pair.judged
    last = left or found
    if last is None:
        return Cell("Not measured.")
    if left is None and pair.left is not None:
        return Cell(f"{_as_found(last)}; not measured again.")
    if last.verdict is Verdict.SUSPECT:
        return Cell("A part is suspected.", Tone.BAD)
    return STANDS[last.standing](found, left, turned)


def _as_found(judged: Judged) -> str:
    said = {
        Standing.WITHIN: "Was within its limit",
        Standing.AT_LIMIT: "Was too close to its limit to call",
        Standing.BEYOND: "Was beyond its limit",
    }
    return said[judged.standing]


def _within(found: Judged | None, left: Judged | None, turned: bool) -> Cell:
    if left is not None and found is not None and found.standing is Standing.BEYOND:
        return Cell("Was beyond its limit; now within it.", Tone.PUT_RIGHT)
    return Cell("Within its limit." if turned else "Within its limit; left alone.", Tone.GOOD)


def _at_limit(_found: Judged | None, _left: Judged | None, _turned: bool) -> Cell:
    return Cell("Too close to its limit to call.", Tone.CLOSE)


def _beyond(found: Judged | None, left: Judged | None, turned: bool) -> Cell:
    if left is None:
        return Cell("Beyond its limit; adjusting was begun." if turned else "Beyond its limit; not adjusted.", Tone.BAD)
    was_beyond = found is None or found.standing is Standing.BEYOND
    return Cell("Still beyond its limit." if was_beyond else "Now beyond its limit.", Tone.BAD)


STANDS = {Standing.WITHIN: _within, Standing.AT_LIMIT: _at_limit, Standing.BEYOND: _beyond}
