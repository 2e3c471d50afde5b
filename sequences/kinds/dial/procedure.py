"""The dial: at each mark the person sets it, and the source finds where the receiver really is.

If sliding the pointer brings every mark within limits, nothing else is adjusted. Otherwise the oscillator's two
adjusters are turned, low end and high end and again until both hold, and the pointer shares out what is left.
"""

from collections.abc import Collection, Generator
from typing import Any

from sequences.alignment.outcome import Phase, StepOutcome, Task, Turning
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_output
from sequences.kinds.dial.dial_live import set_ends_live
from sequences.numerics.dials.dial import DialJudgement, judge_dial
from sequences.numerics.dials.dial_cure import Cure, next_cure
from sequences.numerics.verdicts.verdict import Signs
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.dials.dial_ends import EndsSet, dial_ends, ends_advice, set_ends
from sequences.procedures.dials.dial_findings import as_found_findings, mark_findings, shape_findings
from sequences.procedures.dials.dial_marks import DialReader, ErrorTable, MarkError, repeat_doubts
from sequences.procedures.dials.pointer import pointer_of, slide_pointer
from sequences.procedures.sweeps.place import HZ_PER_KHZ

MOST_CURES = 3
FEWEST_MARKS = 2


def dial(task: Task) -> Procedure[StepOutcome]:
    """Measure the dial's errors, judge them, and where asked cure them with the least that serves."""
    course = _Course(task)
    yield from course.reader.connect()
    table = yield from course.reader.read_table_or_take()
    found = table
    if task.phase is Phase.ADJUST:
        table = yield from course.cure(table)
    yield from set_output(False)
    course.reader.keep(table)
    return course.outcome(found, table)


class _Course:
    """One run of the step: what was turned, and what to say about it."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self.reader = DialReader(task)
        self.hand = Hand()
        self.limit_hz = task.step.limits[0].most * HZ_PER_KHZ
        self.pointer = pointer_of(task)
        self.bands = tuple(dict.fromkeys(spot.band for spot in task.step.spots))
        self.advice: list[str] = []
        self.signs: Signs | None = None
        self.done: set[Cure] = set()

    def cure(self, table: ErrorTable) -> Generator[Request, Any, ErrorTable]:
        """Slide and turn as far as that serves, measuring all marks after each."""
        for _ in range(MOST_CURES):
            judged = self._judge(table.known)
            cure = Cure.NOTHING if judged is None else self._next(judged, self.done)
            if judged is None or cure is Cure.NOTHING:
                break
            if cure is Cure.SLIDE:
                yield from self._slide(judged.shift_hz.value / HZ_PER_KHZ)
                self.done.add(cure)
            else:
                yield from self._set_ends(table)
                self.done = {Cure.ENDS}
            table = yield from self.reader.read_table()
        return table

    def outcome(self, found: ErrorTable, left: ErrorTable) -> StepOutcome:
        """Sum up: the errors as they are now, and as they were where something was done about them."""
        judged = self._judge(left.known)
        before = () if left is found else as_found_findings(self.task, found)
        findings = (*before, *mark_findings(self.task, left, self._signs(judged)), *shape_findings(judged))
        doubts = repeat_doubts(left, self.limit_hz)
        if judged is not None:
            doubts += tuple(doubt.text for doubt in judged.doubts)
        return StepOutcome(
            self.task.step.id,
            self.task.phase,
            findings,
            self.hand.turned(),
            self._advice(left, judged),
            doubts,
            self.hand.stuck(),
        )

    def _judge(self, marks: tuple[MarkError, ...]) -> DialJudgement | None:
        known = [(mark.mark_khz * HZ_PER_KHZ, mark.error_hz) for mark in marks if mark.error_hz is not None]
        if len({mark_hz for mark_hz, _ in known}) < FEWEST_MARKS:
            return None
        errors = [error for _, error in known]
        return judge_dial(
            [mark_hz for mark_hz, _ in known],
            [error.value for error in errors],
            [error.sigma for error in errors],
            self.limit_hz,
        )

    def _next(self, judged: DialJudgement, done: Collection[Cure]) -> Cure:
        return next_cure(judged, self.limit_hz, self._available(), done)

    def _available(self) -> set[Cure]:
        slide = {Cure.SLIDE} if self.pointer is not None else set()
        return slide | ({Cure.ENDS} if any(dial_ends(self.task, band) for band in self.bands) else set())

    def _signs(self, judged: DialJudgement | None) -> Signs | None:
        """Give the sign of a bad part: seen while turning, or that all was turned and a mark is off all the same."""
        if self.task.phase is not Phase.ADJUST or judged is None:
            return None
        return self.signs or Signs(nothing_to_turn=self._next(judged, self.done) is Cure.NOTHING)

    def _advice(self, table: ErrorTable, judged: DialJudgement | None) -> tuple[str, ...]:
        if judged is None:
            return (*self.advice, "Too few marks were found to judge the dial: see why at each, and measure again.")
        sentences = [*self.advice, judged.text]
        if self._next(judged, ()) is Cure.ENDS and not self.hand.turns:
            sentences += [sentence for band in self.bands for sentence in self._ends_advice(table, band)]
        return tuple(sentences)

    def _ends_advice(self, table: ErrorTable, band: str | None) -> tuple[str, ...]:
        ends = dial_ends(self.task, band)
        errors = {mark.spot: mark.error_hz for mark in table.known}
        if ends is None:
            return ()
        low, high = (errors.get(spot) for spot in ends.spots.values())
        return () if low is None or high is None else ends_advice(ends, low.value, high.value)

    def _slide(self, shift_khz: float) -> Generator[Request, Any, None]:
        if self.pointer is not None:
            refused = yield from slide_pointer(self.task, self.pointer, self.hand, shift_khz)
            self.advice += [refused] if refused else []

    def _set_ends(self, table: ErrorTable) -> Generator[Request, Any, None]:
        """Set the ends of every band whose own errors no sliding cures."""
        for band in self.bands:
            ends = dial_ends(self.task, band)
            judged = self._judge(tuple(mark for mark in table.known if mark.spot.band == band))
            if ends is None or judged is None or self._next(judged, self.done) is not Cure.ENDS:
                continue
            how = set_ends_live if self.task.turning is Turning.LIVE else set_ends
            became: EndsSet = yield from how(self.reader, ends, self.hand, table.known)
            self.signs = self.signs or became.signs
            self.advice += [became.advice] if became.advice else []
