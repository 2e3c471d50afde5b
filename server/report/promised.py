"""The table a report opens with: what was promised, and what was found and left; one row for each figure with a limit.

Where a figure was taken at several places, its row tells the worst of them, each time by its own limit.
"""

from sequences.numerics.verdicts.verdict import Standing, Verdict
from sequences.quantities import Quantity
from server.report.content import Cell, Table, Tone
from server.report.limits import row_scale, say_figure, say_limit
from server.report.pairs import Pair, pairs_of
from server.report.phrases import Worst, worst_of
from server.report.quantities import NONE
from server.report.record import StepHistory
from server.report.words import sentence_start

CAPTION = "What was promised, what was found, and what was left"
COLUMNS = ("Figure", "Promised", "As found", "As left", "Stands")
SHARES = (34, 14, 19, 19, 14)
LEFT_AS_FOUND = "as found"

STANDS = {
    Standing.WITHIN: ("kept", Tone.GOOD),
    Standing.AT_LIMIT: ("too close to call", Tone.CLOSE),
    Standing.BEYOND: ("not kept", Tone.BAD),
}


def promised_table(histories: tuple[StepHistory, ...]) -> tuple[Table, ...]:
    """Put every judged figure of a job beside its limit; no table where nothing was judged yet."""
    rows = [row for history in histories if history.found is not None for row in _rows(history)]
    figures = (False, True, True, True, False)
    return (Table(CAPTION, COLUMNS, figures, SHARES, tuple(rows)),) if rows else ()


def _rows(history: StepHistory) -> list[tuple[Cell, ...]]:
    pairs = [pair for pair in pairs_of(history) if pair.has_limit]
    quantities = dict.fromkeys(pair.quantity for pair in pairs)
    return [_row(history, quantity, [pair for pair in pairs if pair.quantity == quantity]) for quantity in quantities]


def _row(history: StepHistory, quantity: Quantity, pairs: list[Pair]) -> tuple[Cell, ...]:
    found, left = worst_of(pairs, left=False), worst_of(pairs, left=True)
    last = left or found
    several = len(pairs) > 1
    return (
        Cell(_name(history, quantity, len(pairs))),
        Cell(NONE if last is None else say_limit(last.pair, row_scale(last.pair))),
        Cell(_figure(found, several=several, left=False)),
        Cell(LEFT_AS_FOUND if history.left is None else _figure(left, several=several, left=True)),
        _stands(last),
    )


def _name(history: StepHistory, quantity: Quantity, places: int) -> str:
    title = history.step.title
    alike = quantity.name.lower() in title.lower()
    name = title if alike else f"{title}: {quantity.name}"
    return sentence_start(f"{name}, worst of {places}" if places > 1 else name)


def _figure(worst: Worst | None, *, several: bool, left: bool) -> str:
    if worst is None:
        return NONE
    said = say_figure(worst.pair, worst.pair.left if left else worst.pair.found, row_scale(worst.pair))
    return f"{said}, {worst.pair.where}" if several and worst.pair.where else said


def _stands(last: Worst | None) -> Cell:
    if last is None:
        return Cell("not judged")
    word, tone = STANDS[last.judged.standing]
    return Cell(f"{word}, part suspected" if last.judged.verdict is Verdict.SUSPECT else word, tone)
