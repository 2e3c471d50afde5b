"""The preselector: where its knob peaks, centre, width and loaded Q on every band, and its adjusters peaked.

Adjusters that serve many bands are peaked on the band where they count most; the others are checked afterwards, and
one that stays off while its siblings are right points to a part of its own.
"""

import dataclasses
import math
from collections.abc import Generator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_output
from sequences.errors import SequenceError
from sequences.kinds.preselector.preselector_advice import (
    common_pointer,
    drift_sentence,
    knob_sentences,
    rocked_sentence,
    tracking_sentence,
)
from sequences.kinds.preselector.preselector_figures import (
    BandFigures,
    BandJudged,
    are_alike,
    band_figures,
    band_findings,
    judge_band,
    knob_for_peak,
    where_of,
)
from sequences.kinds.preselector.preselector_view import (
    ProbeView,
    Seen,
    Stands,
    ThroughView,
    View,
    controls_of,
    view_of,
)
from sequences.kinds.preselector.rocking import Rocking, gang_of
from sequences.numerics.adjusters.nudging import OnPeak
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.siblings import Adjusted, Blame, blame, next_reference
from sequences.numerics.verdicts.verdict import Signs, Standing
from sequences.plan.content import Spot, StepAdjuster
from sequences.procedures.adjusting.circuit_findings import (
    LEFT,
    LEVEL,
    level_finding,
    limit_of,
    peaked_advice,
    peaked_findings,
)
from sequences.procedures.adjusting.one_adjuster import Peaked, PeakedByMeter, live_level, peak_adjuster
from sequences.procedures.adjusting.turning import Hand

if TYPE_CHECKING:
    from sequences.procedures.sweeps.held_output import HeldOutput

MOST_KNOB_MOVES = 2
MOST_PEAKINGS = 4
MOST_ROUNDS = 3
SETTLED_DB = 0.3
"""A round of peaking that gained less on every adjuster is the last."""

ON_PEAK = (OnPeak, PeakedByMeter)
Table = dict[Spot, BandFigures]


def preselector(task: Task) -> Procedure[StepOutcome]:
    """Measure the preselector on every band, and where asked peak its adjusters."""
    course = _Course(task)
    found = yield from course.measure_or_take()
    left = found
    yield from course.read_levels(Phase.AS_FOUND if task.phase is Phase.ADJUST else task.phase)
    if task.phase is Phase.ADJUST and course.view.levels_only:
        yield from course.peak_by_level()
    elif task.phase is Phase.ADJUST and any(course.judged(found, spot).right is False for spot in found):
        left = yield from course.adjust(found)
    yield from set_output(False)
    course.keep(left)
    return course.outcome(found, left)


@dataclass(frozen=True, slots=True)
class _AsMeasured:
    """Every spot's figures as the receiver stands, the spot at which the controls stand, and how."""

    table: Table
    last: Spot
    stands: Stands


class _Course:
    """One run of the step."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self.view: View = view_of(task)
        self.hand = Hand()
        self.peaked: dict[str, Peaked] = {}
        self.advice: list[str] = []
        self.levels: list[Finding] = []
        self.held: dict[Spot, HeldOutput] = {}
        self.rocking: Rocking | None = None

    def read_levels(self, when: Phase) -> Generator[Request, Any, None]:
        """Where no response can be seen, say at every mark what source level gives the same output."""
        for spot in self.task.step.spots if self.view.levels_only else ():
            where = f"{spot.source_khz:g} kHz"
            try:
                held, frequency_hz = yield from self.view.hold(spot, spot.knob_mark)
                held = self.held.setdefault(spot, held)
                level = yield from held.read(frequency_hz, when)
            except SequenceError as error:
                self.levels.append(Finding(LEVEL, where, None, reason=str(error), when=when))
            else:
                self.levels.append(level_finding(level, held, when, where))

    def peak_by_level(self) -> Generator[Request, Any, None]:
        """Peak every adjuster where the receiver is tuned, at the mark of its end."""
        yield from self._peak(self.task.step.spots, self._adjusters())
        for band in dict.fromkeys(spot.band for spot in self.task.step.spots):
            yield from self._rock_by_level(band)
        yield from self.read_levels(Phase.AS_LEFT)

    def _rock_by_level(self, band: str | None) -> Generator[Request, Any, None]:
        """Peak the low end by the oscillator's own adjuster, the source following; go over the high end again."""
        rocking, view = self._rocking(band), self.view
        if rocking is None or not isinstance(view, ThroughView):
            return
        for _ in range(MOST_ROUNDS):
            try:
                peaked = yield from rocking.peak_low(view)
            except SequenceError as error:
                self.advice.append(f"The gang could not be rocked: {error}")
                break
            if isinstance(peaked.result, OnPeak) and not rocking.has_gained(peaked):
                break
            self.rocking = rocking
            self.peaked[rocking.low_adjuster.name] = peaked
            yield from rocking.set_high(view)
            yield from self._peak((rocking.low, rocking.high), self._adjusters(band))
        if self.rocking is rocking:
            self.advice.append(rocking.why())
            yield from rocking.look_at_dial()
            yield from view.ready()

    @property
    def key(self) -> tuple[str, str]:
        """Name the figures that one run leaves for the next."""
        return self.task.step.id, self.task.way.name

    def measure_or_take(self) -> Generator[Request, Any, Table]:
        """Take up what the run before measured, where the spot that it ended on measures the same still."""
        before = None if self.task.phase is Phase.AS_FOUND else self.task.kept.take_figures(self.key, _AsMeasured)
        if before is not None and isinstance(self.view, ProbeView):
            yield from self.view.take_up(before.stands)
            was = before.table[before.last]
            now = yield from self._response(before.last, was.seen.knob)
            if are_alike(was, now):
                return {**before.table, before.last: now}
        yield from self.view.ready()
        return (yield from self.measure(self.task.step.spots))

    def keep(self, table: Table) -> None:
        """Leave the figures for the next run, with a spot at which the controls stand."""
        if not isinstance(self.view, ProbeView):
            return
        stands = self.view.stands
        for spot, figures in table.items():
            wanted = controls_of(self.task, spot, figures.seen.knob)
            if figures.centre_hz is not None and wanted.items() <= stands.controls.items():
                self.task.kept.keep_figures(self.key, _AsMeasured(table, spot, stands))

    def measure(self, spots: Sequence[Spot]) -> Generator[Request, Any, Table]:
        """Measure the response at every spot, the knob on its mark; where that is off, with the knob on the peak."""
        table: Table = {}
        for spot in spots:
            figures = yield from self._response(spot, spot.knob_mark)
            for _ in range(MOST_KNOB_MOVES):
                knob = knob_for_peak(self.task, figures.seen)
                if self._is_centred(figures) or knob in (None, figures.seen.knob):
                    break
                at_peak = yield from self._response(spot, knob)
                if at_peak.centre_hz is None:
                    break
                figures = at_peak
            table[spot] = figures
        return table

    def _is_centred(self, figures: BandFigures) -> bool:
        error = judge_band(self.task, figures).error
        return error is not None and error.standing is Standing.WITHIN

    def judged(self, table: Table, spot: Spot, signs: Signs | None = None) -> BandJudged:
        """Judge one spot of a table."""
        return judge_band(self.task, table[spot], signs)

    def adjust(self, table: Table) -> Generator[Request, Any, Table]:
        """Peak each group of adjusters that serves the same bands."""
        adjusters = self._adjusters()
        for bands in dict.fromkeys(each.bands for each in adjusters):
            group = [each for each in adjusters if each.bands == bands]
            spots = [spot for spot in table if not bands or spot.band in bands]
            table = table | (yield from self._adjust_group(group, {spot: table[spot] for spot in spots}))
        for band in dict.fromkeys(spot.band for spot in table):
            table = yield from self._rock(table, band)
        return table

    def _rock(self, table: Table, band: str | None) -> Generator[Request, Any, Table]:
        """Where a ganged circuit stays off at the low end, move the receiver to it, and go over the high end again."""
        rocking = self._rocking(band)
        if rocking is None:
            return table
        low, adjusters = rocking.low, self._adjusters(band)
        for _ in range(MOST_ROUNDS):
            here = table[low]
            off = any(spot.band == band and not self._is_right(table, spot) for spot in table)
            if here.centre_hz is None or here.width_hz is None or not off:
                break
            if self.rocking is None:
                self.advice.append(rocking.why())
            self.rocking = rocking
            yield from rocking.follow(here.centre_hz, here.width_hz.value)
            yield from self.view.ready()
            yield from self._peak((low, rocking.high), adjusters)
            table = yield from self.measure(tuple(table))
            if rocking.rocked.signs is not None:
                break
        return table

    def _rocking(self, band: str | None) -> Rocking | None:
        """Give what rocks the gang on a band; None where that cannot be done, or the circuit itself did not peak."""
        spots = [spot for spot in self.task.step.spots if spot.band == band]
        gang = gang_of(self.task, spots)
        peaked = all(isinstance(each.result, ON_PEAK) for each in self.peaked.values())
        return None if gang is None or not peaked else Rocking(gang, self.hand)

    def _is_right(self, table: Table, spot: Spot) -> bool:
        return self.judged(table, spot).right is not False

    def _adjust_group(self, adjusters: Sequence[StepAdjuster], table: Table) -> Generator[Request, Any, Table]:
        """Peak them on one band and check the others; where those come out wrong, that band was the wrong one."""
        history: list[Adjusted] = []
        coils = self.task.receiver.preselector.shared_coils
        for _ in range(MOST_PEAKINGS):
            band = next_reference(_by_frequency(table), history, self._right(table), coils)
            if band is None:
                break
            yield from self._peak([spot for spot in table if spot.band == band], adjusters)
            table = yield from self.measure(tuple(table))
            history.append(Adjusted(band, self._right(table)))
        return table

    def _peak(self, spots: Sequence[Spot], adjusters: Sequence[StepAdjuster]) -> Generator[Request, Any, None]:
        """Peak at the spot of each adjuster's end, the low end first, and again until nothing more is gained."""
        low_to_high = sorted(spots, key=lambda spot: spot.source_khz or 0.0)
        ordered = sorted(adjusters, key=lambda each: each.end != "low")
        for _ in range(MOST_ROUNDS):
            gained_db = 0.0
            for adjuster in ordered:
                spot = low_to_high[0] if adjuster.end == "low" else low_to_high[-1]
                gained_db = max(gained_db, (yield from self._peak_one(spot, adjuster)))
            if gained_db < SETTLED_DB or len({adjuster.end for adjuster in ordered}) == 1:
                return

    def _peak_one(self, spot: Spot, adjuster: StepAdjuster) -> Generator[Request, Any, float]:
        """Peak one adjuster with the knob on its mark; give what that gained in dB."""
        try:
            held, frequency_hz = yield from self.view.hold(spot, spot.knob_mark)
            live = live_level(self.task, held, frequency_hz, limit_of(self.task.step, LEFT))
            peaked = yield from peak_adjuster(
                adjuster, lambda purpose: held.read(frequency_hz, purpose), self.hand, live
            )
        except SequenceError as error:
            self.advice.append(f"{adjuster.name} could not be peaked: {error}")
            return 0.0
        self.peaked[adjuster.name] = _with_earlier_gain(peaked, self.peaked.get(adjuster.name))
        return peaked.result.gain_db.value if isinstance(peaked.result, ON_PEAK) else 0.0

    def _right(self, table: Table) -> dict[str, bool]:
        """Say of each band that could be measured whether all its spots are right."""
        right: dict[str, bool] = {}
        for spot in table:
            here = self.judged(table, spot).right
            if here is not None and spot.band is not None:
                right[spot.band] = right.get(spot.band, True) and here
        return right

    def outcome(self, found: Table, left: Table) -> StepOutcome:
        """Sum up."""
        before = () if left is found else self._before(found)
        after = [self.judged(left, spot, self._signs(left, spot)) for spot in left]
        findings = [*before, *self.levels, *self._peaked_findings(), *(self.rocking.findings() if self.rocking else ())]
        for judged in after:
            findings += band_findings(self.task, judged)
        doubts = [
            f"{where_of(self.task, figures.seen)}: {doubt}"
            for figures in left.values()
            for doubt in figures.seen.doubts
        ]
        advice = [*self.advice, *self._peaked_advice(), *self._band_advice(left)]
        return StepOutcome(
            self.task.step.id,
            self.task.phase,
            tuple(findings),
            self.hand.turned(),
            tuple(advice),
            tuple(doubts),
            self.hand.stuck(),
        )

    def _before(self, found: Table) -> tuple[Finding, ...]:
        rows = [band_findings(self.task, self.judged(found, spot), Phase.AS_FOUND) for spot in found]
        return tuple(finding for row in rows for finding in row)

    def _peaked_findings(self) -> list[Finding]:
        limit_db = limit_of(self.task.step, LEFT)
        return [each for name, peaked in self.peaked.items() for each in peaked_findings(name, peaked, limit_db)]

    def _peaked_advice(self) -> list[str]:
        return [peaked_advice(name, peaked) for name, peaked in self.peaked.items()]

    def _signs(self, table: Table, spot: Spot) -> Signs | None:
        """Give the sign of a bad part in a band that is off, once its adjusters are set."""
        if self.task.phase is Phase.AS_FOUND or spot.band is None:
            return None
        right = self._right(table)
        if right.get(spot.band, True):
            return None
        if self.rocking is not None:
            return self.rocking.rocked.signs or Signs(nothing_to_turn=True)
        at_fault = self._blame(spot.band, right)
        return Signs(siblings_right=at_fault is not Blame.ADJUSTMENT, nothing_to_turn=not self._adjusters())

    def _adjusters(self, band: str | None = None) -> list[StepAdjuster]:
        """Give what may be turned; with a band, what serves it."""
        free = [each for each in self.task.step.adjusters if not each.measure_only]
        return [each for each in free if band is None or not each.bands or band in each.bands]

    def _blame(self, band: str, right: dict[str, bool]) -> Blame:
        return blame(band, right, self.task.receiver.preselector.shared_coils)

    def _band_advice(self, table: Table) -> list[str]:
        """Say what to do about bands, or marks, that are off all the same."""
        if self.task.phase is Phase.AS_FOUND:
            return []
        right = self._right(table)
        off = [spot for spot in table if self.judged(table, spot).right is False]
        if self.rocking is not None:
            return [*self.rocking.rocked.advice, *(rocked_sentence(self.task, table[spot]) for spot in off)]
        if self.task.receiver.preselector.tuned_by == "gang":
            return [tracking_sentence(self.task, table[spot]) for spot in off]
        return [*knob_sentences(self.task, list(table.values())), *self._suspicions(table, off, right)]

    def _suspicions(self, table: Table, off: Sequence[Spot], right: dict[str, bool]) -> list[str]:
        sentences = []
        for spot in off:
            at_fault = self._blame(spot.band or "", right)
            if at_fault is Blame.ADJUSTMENT:
                continue
            where = where_of(self.task, table[spot].seen)
            sentences.append(f"{where}: off while the others are right, so suspect {at_fault}.")
            common = common_pointer([table[one] for one in table if right.get(one.band or "")])
            drift = None if common is None else drift_sentence(self.task, table[spot], common)
            sentences += [drift] if drift else []
        return sentences

    def _response(self, spot: Spot, knob: float | None) -> Generator[Request, Any, BandFigures]:
        seen: Seen = yield from self.view.response(spot, knob)
        return band_figures(self.task, seen)


def _with_earlier_gain(peaked: Peaked, earlier: Peaked | None) -> Peaked:
    """Count what an adjuster gained before to what it gained now."""
    now, before = peaked.result, None if earlier is None else earlier.result
    if not (isinstance(now, ON_PEAK) and isinstance(before, ON_PEAK)):
        return peaked
    gain = Estimate(now.gain_db.value + before.gain_db.value, math.hypot(now.gain_db.sigma, before.gain_db.sigma))
    return Peaked(dataclasses.replace(now, gain_db=gain))


def _by_frequency(table: Table) -> list[str]:
    """Give the bands, highest frequency first: there a trimmer is the largest part of the capacitance."""
    highest: dict[str, float] = {}
    for spot in table:
        if spot.band is not None:
            highest[spot.band] = max(highest.get(spot.band, 0.0), spot.source_khz or 0.0)
    return sorted(highest, key=lambda band: -highest[band])
