"""An IF passband: sweep it at each of its widths, fit, and hold centre, width and skew against what they should be.

Where several cans precede the detector and the source may enter between them, they are told apart from the last on:
each sweep from one point further forward, less the one before, is the stage between. Nothing here is turned but the
cans themselves, and those by their own procedure.
"""

from collections.abc import Generator
from dataclasses import replace
from typing import Any

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.asks import connect, set_controls
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_output
from sequences.errors import SequenceError
from sequences.kinds.if_can.layout import steps as can_steps
from sequences.kinds.if_can.procedure import if_can
from sequences.kinds.if_passband.passband_findings import PassbandFigures, note_stage, note_whole, what_is_wrong
from sequences.kinds.if_passband.passband_stages import Stage, stages_from_last
from sequences.numerics.responses.passband import PassbandFit
from sequences.numerics.verdicts.verdict import Standing
from sequences.plan.places import filter_step
from sequences.procedures.adjusting.circuit_findings import sentence_start
from sequences.procedures.adjusting.step_notes import StepNotes
from sequences.procedures.sweeps.place import place_of
from sequences.procedures.sweeps.scan import ScanResult
from sequences.procedures.sweeps.stage_sweep import Span, less, own_doubts, sweep
from sequences.receiver.hookups import Hookup
from sequences.receiver.targets import ScanTarget


def if_passband(task: Task) -> Procedure[StepOutcome]:
    """Measure an IF's passband at each width; in the adjusting phase set the cans that stand off, and measure again."""
    notes = StepNotes(task)
    passband = _Passband(notes)
    if task.phase is not Phase.ADJUST:
        yield from passband.measure(task.phase, last_word=True)
    else:
        yield from passband.measure(Phase.AS_FOUND, last_word=not passband.cans)
        if passband.cans:
            yield from passband.adjust()
            yield from passband.measure(Phase.AS_LEFT, last_word=True)
    yield from set_output(False)
    return notes.outcome()


class _Passband:
    """One IF on the bench; the leads are asked for only where they are to go elsewhere."""

    def __init__(self, notes: StepNotes) -> None:
        self.notes, self.task, self.receiver = notes, notes.task, notes.task.receiver
        self.key = notes.task.step.subject.removeprefix("if.")
        self.off: list[Stage] = []
        self.whole_is_good = True
        self.connected: Hookup | None = None
        free = {adjuster.name for adjuster in notes.task.step.adjusters if not adjuster.measure_only}
        self.cans = tuple(
            dict.fromkeys(
                entry.moves.removeprefix("filter.") for name, entry in self.receiver.adjusters.items() if name in free
            )
        )

    def measure(self, when: Phase, *, last_word: bool) -> Generator[Request, Any, None]:
        """Measure at every width, and stage by stage at the widest."""
        self.off, self.whole_is_good = [], True
        widest = max(self.task.step.targets, key=lambda target: target.nominal_width_hz)
        for target in self.task.step.targets:
            figures = PassbandFigures(self.notes, target, when, last_word=last_word, adjustable=bool(self.cans))
            try:
                yield from self._measure_target(figures, by_stages=target is widest)
            except SequenceError as error:
                self.whole_is_good = False
                figures.not_measured(str(error))

    def _measure_target(self, figures: PassbandFigures, *, by_stages: bool) -> Generator[Request, Any, None]:
        target = figures.target
        stages = stages_from_last(self.receiver, self.key, target.hookup) if by_stages else ()
        behind: PassbandFit | None = None
        for stage in stages[:-1]:
            total = yield from self._sweep(stage.place.hookup, target)
            alone = total.fit if behind is None else (yield from less(total, behind))
            self._note_stage(figures, stage, alone)
            behind = total.fit
        whole = yield from self._sweep(target.hookup, target)
        self.notes.doubts += [*own_doubts(whole), *(doubt.text for doubt in whole.fit.doubts)]
        if behind is not None:
            self._note_stage(figures, stages[-1], (yield from less(whole, behind)))
        judged = note_whole(figures, whole.fit)
        if any(one is None or one.standing is not Standing.WITHIN for one in judged):
            self.whole_is_good = False

    def _sweep(self, hookup: Hookup, target: ScanTarget) -> Generator[Request, Any, ScanResult]:
        place = place_of(self.receiver, hookup)
        yield from self._connect(hookup, target.cautions if hookup == target.hookup else place.cautions)
        return (yield from sweep(place, Span(target.start_hz, target.stop_hz)))

    def _connect(self, hookup: Hookup, cautions: tuple[str, ...]) -> Generator[Request, Any, None]:
        """Move leads where they go elsewhere; set only those controls that stand otherwise."""
        before, self.connected = self.connected, hookup
        if before is None or before.source_to != hookup.source_to or before.meter_to != hookup.meter_to:
            yield from connect(hookup, cautions)
            return
        changed = {name: to for name, to in hookup.controls.items() if before.controls.get(name) != to}
        yield from set_controls(changed)

    def _note_stage(self, figures: PassbandFigures, stage: Stage, fit: PassbandFit) -> None:
        note_stage(figures, stage.name, fit)
        entry = self.receiver.filters[stage.filters[0]]
        alone_khz = entry.width_khz if len(stage.filters) == 1 else None
        wrong = what_is_wrong(self.task.step, fit, figures.target.nominal_centre_hz, alone_khz)
        if wrong is not None:
            self.off.append(stage)
            self.notes.advice.append(f"{sentence_start(stage.name)} alone, {figures.when}, is {wrong}.")

    def adjust(self) -> Generator[Request, Any, None]:
        """Have the cans set that stand off by themselves, the last first; where none does, there is nothing to turn."""
        if self.whole_is_good:
            self.notes.advice.append("Every figure is within its limit as found: nothing was turned.")
            return
        names = [key for stage in self.off for key in stage.filters if key in self.cans]
        if not names:
            self.notes.advice.append("No can is off by itself, so that no slug would mend this.")
        for key in names:
            yield from self._adjust_can(key)

    def _adjust_can(self, key: str) -> Generator[Request, Any, None]:
        step = next(one for one in can_steps(self.receiver) if one.id == filter_step(key))
        outcome = yield from if_can(Task(self.receiver, step, step.ways[0], Phase.ADJUST, self.task.turning))
        self.connected = None
        self.notes.findings += [replace(finding, where=_of_can(key, finding.where)) for finding in outcome.findings]
        self.notes.advice += outcome.advice
        self.notes.doubts += outcome.doubts
        self.notes.hand.add(*outcome.turned)
        for each in outcome.stuck:
            self.notes.hand.found(each.adjuster, each.how)


def _of_can(key: str, where: str) -> str:
    """Say which can a finding of its own procedure belongs to."""
    return where if key in where else f"{key}, {where}" if where else key
