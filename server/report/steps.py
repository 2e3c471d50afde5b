"""One step of a job on paper: its figures, plots, what was turned, doubts, remarks and photos."""

from collections.abc import Callable

from sequences.alignment.outcome import Phase, StepOutcome, Turned
from sequences.plan.content import Shown, Step
from server.report.by_place import places_of
from server.report.content import Block, Bullets, Cell, Facts, Paragraph, Section, Table
from server.report.drawings import drawings_of
from server.report.limits import row_scale, say_figure, say_limit, verdict_cell
from server.report.pairs import Pair, pairs_of
from server.report.photos import picture_of
from server.report.quantities import NONE, say_plain
from server.report.record import Row, StepHistory
from server.report.said import doubts_of, suspicions_of
from server.report.summary import standing_of
from server.report.times import say_time
from server.report.words import listed, sentence_start, typeset

LEFT_AS_FOUND = "left as found"
BY_THE_METER = "by the meter, turns not counted"

SAID_AS_FOUND = "Said of the figures as found"
SAID_ADJUSTING = "Said while it was adjusted"
SAID_AS_LEFT = "Said of the figures as left"

JUDGED_COLUMNS = ("Figure", "As found", "As left", "Limit", "Verdict")
JUDGED_SHARES = (19, 23, 23, 13, 22)
OTHER_COLUMNS = ("Figure", "As found", "As left")
OTHER_SHARES = (50, 25, 25)


def step_section(history: StepHistory, read_run: Callable[[int], Row]) -> Section:
    """Write out a step."""
    word, tone = standing_of(history)
    blocks: list[Block] = [Paragraph(history.step.meaning), Facts(_facts(history))]
    if history.found is not None:
        blocks += _figures(history)
        blocks += drawings_of(history, read_run)
    blocks += _sentences(history)
    blocks += [Paragraph(f"{say_time(each.at_utc)}: {each.text}") for each in history.remarks]
    blocks += [picture_of(each) for each in history.photos]
    return Section(history.step.title, 2, tuple(blocks), word, tone)


def _facts(history: StepHistory) -> tuple[tuple[str, str], ...]:
    record, step = history.record, history.step
    rows = [("Good is", step.good.removeprefix("Good is: ")), ("Measured", "not at all")]
    if record is not None and record.way is not None and history.found is not None:
        way = next((each for each in step.ways if each.name is record.way), None)
        measured = record.way.value if way is None else f"{record.way.value}: {way.measured}"
        rows[-1] = ("Measured by", measured)
    if history.turned:
        rows.append(("Turned", "; ".join(_say_turned(step, each) for each in history.turned)))
    elif history.found is not None:
        rows.append(("Turned", "nothing"))
    if history.left is not None and not history.adjusted:
        rows.append(("Measured again", "as left, since other steps were adjusted in between"))
    factory = tuple(each.name for each in step.adjusters if each.measure_only)
    if factory:
        rows.append(("Left alone", f"{listed(factory)}: set in the factory, and not to be turned"))
    if record is not None and record.reason:
        rows.append(("Why so", typeset(record.reason)))
    return tuple(rows)


def _say_turned(step: Step, turned: Turned) -> str:
    if turned.turns is None:
        return f"{turned.adjuster} {BY_THE_METER}"
    kind = next((each.kind for each in step.adjusters if each.name == turned.adjuster), "")
    way = "clockwise" if turned.turns > 0.0 else "anticlockwise"
    size = say_plain(abs(turned.turns), "", figures=3)
    if kind in {"dial pointer", "knob on shaft"}:
        return f"{turned.adjuster} moved {'up' if turned.turns > 0.0 else 'down'} its scale by {size}"
    return f"{turned.adjuster} {size} turn{'' if size == '1' else 's'} {way}"


def _figures(history: StepHistory) -> list[Block]:
    pairs = pairs_of(history)
    if history.step.shown is Shown.BY_PLACE:
        return [_place_table(pairs, history)]
    unlimited = {pair.name for pair in pairs if not _was_wanted(pair)} - {pair.name for pair in pairs if pair.has_limit}
    judged = [pair for pair in pairs if pair.has_limit or (_was_wanted(pair) and pair.name not in unlimited)]
    others = [pair for pair in pairs if pair not in judged]
    blocks: list[Block] = []
    if judged:
        blocks.append(_judged_table(judged, history))
    if others:
        blocks.append(_other_table(others, history))
    missing = tuple(dict.fromkeys(typeset(pair.reason) for pair in pairs if pair.reason))
    if missing:
        blocks.append(Bullets(missing, "Why figures are missing"))
    explained = _explained(pairs)
    return [*blocks, Paragraph(explained, small=True)] if explained else blocks


def _was_wanted(pair: Pair) -> bool:
    """Tell whether a figure was to be had and could not be."""
    return any(each is not None and each.figure is None for each in (pair.found, pair.left))


def _judged_table(pairs: list[Pair], history: StepHistory) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for name, group in _by_name(pairs):
        rows += _group_row(name, group)
        for pair in group:
            limit = Cell(say_limit(pair, row_scale(pair)))
            verdict = verdict_cell(pair, turned=bool(history.adjusted))
            rows.append((Cell(_name(pair, group, history.step)), *_both(pair, history), limit, verdict))
    figures = (False, True, True, True, False)
    return Table("Figures and their limits", JUDGED_COLUMNS, figures, JUDGED_SHARES, tuple(rows))


def _other_table(pairs: list[Pair], history: StepHistory) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for name, group in _by_name(pairs):
        rows += _group_row(name, group)
        rows += [(Cell(_name(pair, group, history.step)), *_both(pair, history)) for pair in group]
    return Table("Other figures", OTHER_COLUMNS, (False, True, True), OTHER_SHARES, tuple(rows))


def _by_name(pairs: list[Pair]) -> list[tuple[str, list[Pair]]]:
    """Put figures of one name together, in the order the names first come; those alone of their name before the rest.

    A figure after a group would seem to belong to it.
    """
    names = dict.fromkeys(pair.name for pair in pairs)
    groups = [(name, [pair for pair in pairs if pair.name == name]) for name in names]
    return sorted(groups, key=lambda group: len(group[1]) > 1)


def _group_row(name: str, group: list[Pair]) -> list[tuple[Cell, ...]]:
    return [(Cell(sentence_start(name)),)] if len(group) > 1 else []


def _name(pair: Pair, group: list[Pair], step: Step) -> str:
    if len(group) > 1:
        return pair.where or step.title
    return sentence_start(f"{pair.name}, {pair.where}" if pair.where else pair.name)


def _both(pair: Pair | None, history: StepHistory) -> tuple[Cell, Cell]:
    """Give a figure as found and as left; what was not turned and not measured again is left as it was found."""
    if pair is None:
        return Cell(NONE), Cell(NONE)
    scale = row_scale(pair)
    left = LEFT_AS_FOUND if history.left is None else say_figure(pair, pair.left, scale)
    return Cell(say_figure(pair, pair.found, scale)), Cell(left)


def _place_table(pairs: tuple[Pair, ...], history: StepHistory) -> Table:
    """Put each place's figures in one row; the last of them is the one that is judged."""
    found = places_of(pairs)
    heads = [sentence_start(quantity.short or quantity.name) for quantity in found.quantities]
    columns = ("Band", *(f"{head} {when}" for head in heads for when in ("as found", "as left")), "Verdict")
    rows = []
    for place in found.places:
        cells = [cell for quantity in found.quantities for cell in _both(place.get(quantity), history)]
        verdict = Cell("") if place.judged is None else verdict_cell(place.judged, turned=bool(history.adjusted))
        rows.append((Cell(place.where), *cells, verdict))
    limit = "" if found.limited is None else f": {say_limit(found.limited, row_scale(found.limited))}"
    caption = f"{sentence_start(listed(tuple(quantity.name for quantity in found.quantities)))} by band{limit}"
    shares = (9, *(70 // (len(columns) - 2) for _ in columns[1:-1]), 21)
    figures = (False, *(True for _ in columns[1:-1]), False)
    return Table(caption, columns, figures, shares, tuple(rows))


def _explained(pairs: tuple[Pair, ...]) -> str:
    meanings = {pair.name: pair.quantity.meaning for pair in pairs}
    said = [f"{name} is {meaning}" for name, meaning in meanings.items() if meaning]
    return sentence_start("; ".join(said)) + "." if said else ""


def _sentences(history: StepHistory) -> list[Block]:
    blocks: list[Block] = []
    suspected, doubts = suspicions_of(history), doubts_of(history)
    if suspected:
        blocks.append(Bullets(suspected, "Why a part is suspected"))
    said: set[str] = set()
    for outcome in history.outcomes:
        advice = tuple(text for text in map(typeset, outcome.advice) if text not in said)
        said.update(advice)
        if advice:
            blocks.append(Bullets(advice, _said_when(history, outcome)))
    if doubts:
        blocks.append(Bullets(doubts, "Doubts"))
    return blocks


def _said_when(history: StepHistory, outcome: StepOutcome) -> str:
    """Say what sentences are about: a step measured once more without turning stands as it is left, too."""
    if outcome.phase is Phase.ADJUST:
        return SAID_ADJUSTING
    is_found = history.found is not None and outcome is history.found.outcome
    return SAID_AS_FOUND if is_found else SAID_AS_LEFT
