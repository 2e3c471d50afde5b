"""An IF can: both slugs, in rounds.

Where the can is the narrowest thing before the detector, or what follows it can be measured and taken off, a sweep
shows its centre, and after its two slugs are set to their common peak, edge balance brings the whole to its frequency.
Where it is seen through something narrower a sweep would show that; then level against equal steps is all there is.
An over-coupled can has two humps: it is set to the middle between them and never peaked by meter.
"""

from collections.abc import Generator
from typing import Any

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_output
from sequences.errors import SequenceError
from sequences.kinds.if_can.can_edges import align_by_edges
from sequences.kinds.if_can.can_slugs import set_slugs, slugs_advice, slugs_findings
from sequences.kinds.if_can.can_view import CanView, view_of
from sequences.procedures.adjusting.circuit_findings import LEFT, gained_finding, level_finding, limit_of
from sequences.procedures.adjusting.one_adjuster import live_level
from sequences.procedures.adjusting.step_notes import StepNotes
from sequences.procedures.sweeps.place import connect_and_hold, nominal_hz

NOT_WITHOUT_TURNING = (
    "What there is to gain shows only when the slugs are turned, because the can is seen through a narrower window; "
    "run the step to adjust it."
)

TOLD_BY_TURNING = (
    "What is left to gain was told while the slugs were turned; now nothing is turned, and the level alone says that "
    "it has not changed since."
)


def if_can(task: Task) -> Procedure[StepOutcome]:
    """Measure, and where asked adjust, one can.

    A sweep through a narrower window is refused with the reason. A slug that cannot be turned, or that comes to the
    end of its travel, leaves the other at its best and a part suspected.
    """
    notes = StepNotes(task)
    view = view_of(task)
    if view.refused is not None:
        notes.not_measured(LEFT, view.refused)
        return notes.outcome()
    try:
        yield from (align_by_edges if view.by_edges else _align_by_steps)(view, notes)
    except SequenceError as error:
        notes.not_measured(LEFT, str(error))
    yield from set_output(False)
    return notes.outcome()


def _align_by_steps(view: CanView, notes: StepNotes) -> Generator[Request, Any, None]:
    """Read the level at the nominal frequency while the slugs are turned; the source never moves."""
    task, frequency_hz = notes.task, nominal_hz(notes.task)
    held = yield from connect_and_hold(view.place, [frequency_hz])
    notes.doubts += held.level.doubts
    if view.because is not None:
        notes.advice.append(view.because)
    when = Phase.AS_FOUND if task.phase is Phase.ADJUST else task.phase
    found = yield from held.read(frequency_hz, when)
    notes.findings.append(level_finding(found, held, when))
    if task.phase is not Phase.ADJUST:
        notes.not_measured(LEFT, NOT_WITHOUT_TURNING if task.phase is Phase.AS_FOUND else TOLD_BY_TURNING)
        return
    live = live_level(task, held, frequency_hz, limit_of(task.step, LEFT))
    slugs = yield from set_slugs(task.step, lambda purpose: held.read(frequency_hz, purpose), notes.hand, live)
    left = yield from held.read(frequency_hz, Phase.AS_LEFT)
    notes.findings += [level_finding(left, held, Phase.AS_LEFT), gained_finding(found, left)]
    notes.findings += slugs_findings(task, slugs, limit_of(task.step, LEFT))
    notes.advice += slugs_advice(slugs)
