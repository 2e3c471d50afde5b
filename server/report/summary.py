"""The summary: for each step what was off, what was done and how it is now, for who owns the receiver."""

from collections import Counter

from sequences.alignment.outcome import Phase
from sequences.alignment.progress import Ending
from sequences.numerics.verdicts.verdict import Standing
from server.report.content import Block, Paragraph, Point, Points, Section, Tone, Warned
from server.report.pairs import Pair, pairs_of
from server.report.phrases import (
    Worst,
    absent_at,
    how_many_beyond,
    in_words,
    in_words_absent,
    limit_in_words,
    worst_of,
)
from server.report.promised import promised_table
from server.report.quantities import is_sure, say_size
from server.report.record import JobHistory, StepHistory
from server.report.said import suspicions_of
from server.report.words import listed, typeset

NOT_DONE, UNDER_WAY = "Not done", "Under way"
GOOD, PUT_RIGHT, SET, AT_LIMIT = "Good as found", "Put right", "Set to its best", "At its limit"
STILL_OFF, LEFT_OFF, SUSPECT, BLOCKED, UNJUDGED, UNMEASURED = (
    "Still off",
    "Off, left alone",
    "Part suspected",
    "Blocked",
    "Not judged",
    "Not measured",
)

COUNTED = (
    (GOOD, "good as found and left alone"),
    (PUT_RIGHT, "off and put right"),
    (SET, "set to its best"),
    (AT_LIMIT, "too close to its limit to call"),
    (STILL_OFF, "still off after adjusting"),
    (LEFT_OFF, "off and left alone"),
    (SUSPECT, "off with a part suspected"),
    (BLOCKED, "blocked by another step"),
    (UNJUDGED, "measured but not judged"),
    (UNMEASURED, "not measured"),
    (UNDER_WAY, "under way"),
    (NOT_DONE, "not done"),
)


def summary_section(job: JobHistory, practice: str) -> Section:
    """Sum up a job."""
    points = tuple(point_of(history) for history in job.steps)
    blocks: list[Block] = [*promised_table(job.steps), Paragraph(_opening(points))]
    if practice:
        blocks.insert(0, Paragraph(practice))
    suspected = _parts(job.steps, points)
    if suspected:
        blocks.append(Warned("A part may have failed or drifted", (*suspected, PART_ADVICE)))
    blocks.append(Points(points))
    return Section("Summary", 1, tuple(blocks))


def _parts(steps: tuple[StepHistory, ...], points: tuple[Point, ...]) -> tuple[str, ...]:
    """Tell why a part is suspected, step by step, and of what is stuck or held up in a step whose figures are good."""
    return tuple(
        f"{point.subject}: {_said_of(history) or point.text}"
        for history, point in zip(steps, points, strict=True)
        if point.word == SUSPECT or history.to_be_told
    )


def _said_of(history: StepHistory) -> str:
    return " ".join(dict.fromkeys((*suspicions_of(history), *map(typeset, history.to_be_told))))


PART_ADVICE = (
    "Adjusting cannot mend a part. Whoever repairs the receiver should test the parts named before any adjuster there "
    "is turned again."
)


def point_of(history: StepHistory) -> Point:
    """Sum up a step."""
    word, tone = standing_of(history)
    return Point(tone, word, history.step.title, _text(history, word))


def standing_of(history: StepHistory) -> tuple[str, Tone]:
    """Say in a word how a step stands."""
    record = history.record
    if record is None or history.under_way:
        return (NOT_DONE if record is None else UNDER_WAY), Tone.PLAIN
    if record.ending is Ending.GOOD:
        return _good(history)
    if record.ending is Ending.OFF:
        return (STILL_OFF if history.adjusted else LEFT_OFF), Tone.BAD
    if record.ending in {Ending.SUSPECT, Ending.BLOCKED}:
        return (SUSPECT if record.ending is Ending.SUSPECT else BLOCKED), Tone.BAD
    return (UNJUDGED if record.ending is Ending.UNJUDGED else UNMEASURED), Tone.PLAIN


def _good(history: StepHistory) -> tuple[str, Tone]:
    pairs = pairs_of(history)
    judged = [found if history.left is None else left for found, left in (pair.judged for pair in pairs)]
    if any(each is not None and each.standing is Standing.AT_LIMIT for each in judged):
        return AT_LIMIT, Tone.CLOSE
    if not history.adjusted:
        return GOOD, Tone.GOOD
    was_off = how_many_beyond(pairs, left=False) > 0
    return (PUT_RIGHT, Tone.PUT_RIGHT) if was_off else (SET, Tone.PUT_RIGHT)


def _opening(points: tuple[Point, ...]) -> str:
    counts = Counter(point.word for point in points)
    said = tuple(f"{counts[word]} {words}" for word, words in COUNTED if counts[word])
    wrong = tuple(point.subject for point in points if point.tone is Tone.BAD)
    if wrong:
        now = f"Not right now: {'; '.join(wrong)}."
    elif all(point.tone is Tone.PLAIN for point in points):
        now = "Nothing has been judged yet."
    elif any(point.tone is Tone.PLAIN for point in points):
        now = "What was measured and judged is now within its limits."
    else:
        now = "Everything is now within its limits."
    return f"The alignment of this receiver has {len(points)} steps: {listed(said)}. {now}"


def _text(history: StepHistory, word: str) -> str:
    record = history.record
    if record is None:
        return "It was not looked at."
    if history.found is None and history.under_way:
        return "It was begun, and its measurement has not come to an end."
    told = tuple(map(typeset, history.to_be_told))
    if history.found is None:
        return " ".join((typeset(record.reason or "It was not measured."), *told))
    sentences = [_was(history), _done(history), _is_now(history)]
    if word in {STILL_OFF, LEFT_OFF, SUSPECT, UNJUDGED}:
        sentences.append(history.step.meaning)
    if record.reason and record.reason not in sentences:
        sentences.append(typeset(record.reason))
    sentences += told
    return " ".join(sentence for sentence in sentences if sentence)


def _was(history: StepHistory) -> str:
    pairs = pairs_of(history)
    absent = absent_at(pairs, left=False)
    if absent is not None:
        return f"It was {in_words_absent(absent)}."
    worst = worst_of(pairs, left=False)
    if worst is None:
        return _only_by_turning(history)
    beyond = worst.judged.standing is Standing.BEYOND
    verb = "was" if beyond or history.left is not None else "is"
    limit = f"where {limit_in_words(worst)}" if beyond else "which is within its limit"
    return f"It {verb} {_at_worst(worst, pairs)}, {limit}{_and_others(pairs)}."


def _at_worst(worst: Worst, pairs: tuple[Pair, ...]) -> str:
    several = sum(pair.quantity == worst.pair.quantity for pair in pairs) > 1
    return f"{'at worst ' if several else ''}{in_words(worst, several=several)}"


def _and_others(pairs: tuple[Pair, ...]) -> str:
    others = how_many_beyond(pairs, left=False) - 1
    if others <= 0:
        return ""
    return f"; {others} more of its figures {'was beyond its limit' if others == 1 else 'were beyond their limits'}"


def _only_by_turning(history: StepHistory) -> str:
    if history.step.shows_by_turning:
        return "How far it was off shows only while it is turned."
    return ""


def _done(history: StepHistory) -> str:
    names = tuple(each.adjuster for each in history.turned)
    if not history.adjusted:
        return ""
    if not names:
        return "Adjusting it was tried; nothing was turned in the end."
    return (
        f"{'Its' if len(names) == 1 else 'Its adjusters'} {listed(names)} {'was' if len(names) == 1 else 'were'} set."
    )


def _is_now(history: StepHistory) -> str:
    if history.left is None:
        return ""
    pairs = pairs_of(history)
    gained = _gained(pairs)
    absent = absent_at(pairs, left=True)
    if absent is not None:
        return f"{gained}It is still {in_words_absent(absent)}."
    worst = _worst_now(history, pairs)
    if worst is None:
        return gained.strip()
    if worst.finding.figure is None:
        unmeasured = worst.pair.name
        worst = worst_of((pair for pair in pairs if pair.left is not None and pair.left.figure is not None), left=True)
        gained += f"Its {unmeasured} could not be measured in the end. "
        if worst is None:
            return gained.strip()
    stands = {
        Standing.WITHIN: "",
        Standing.AT_LIMIT: ", too close to its limit to call",
        Standing.BEYOND: f", where {limit_in_words(worst)}",
    }
    broken = " Adjusting was broken off." if history.left.outcome.phase is Phase.ADJUST else ""
    return f"{gained}It is now {_at_worst(worst, pairs)}{stands[worst.judged.standing]}.{broken}"


def _worst_now(history: StepHistory, pairs: tuple[Pair, ...]) -> Worst | None:
    """Tell of the same kind of figure as before, or of the step's first, unless another now stands beyond its limit."""
    worst, before = worst_of(pairs, left=True), worst_of(pairs, left=False)
    if worst is None or worst.judged.standing is Standing.BEYOND:
        return worst
    quantity = history.step.limits[0].quantity if before is None else before.pair.quantity
    return worst_of((pair for pair in pairs if pair.quantity == quantity), left=True) or worst


def _gained(pairs: tuple[Pair, ...]) -> str:
    for pair in pairs:
        finding, what = pair.left, pair.quantity.change
        if what and finding is not None and finding.figure is not None:
            if not is_sure(finding.figure):
                return f"{what} changed by {say_size(finding.figure, pair.unit)}. "
            word = "stronger" if finding.figure.value > 0.0 else "weaker"
            return f"{what} became {say_size(finding.figure, pair.unit)} {word}. "
    return ""
