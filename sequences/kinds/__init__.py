"""The kinds of step, one module or room each; a new one is found by its `KIND` and needs no line here."""

import importlib
import pkgutil

from sequences.alignment.outcome import StepOutcome, Task
from sequences.engine.run import Procedure
from sequences.plan.order import Plan, plan_of
from sequences.procedures.kind import Kind
from sequences.receiver.model import Receiver


def _kinds() -> tuple[Kind, ...]:
    names = sorted(module.name for module in pkgutil.iter_modules(__path__))
    return tuple(importlib.import_module(f"{__name__}.{name}").KIND for name in names)


KINDS = _kinds()
QUANTITIES = {quantity.key: quantity for kind in KINDS for quantity in kind.quantities}
_BY_NAME = {kind.name: kind for kind in KINDS}


def alignment_plan(receiver: Receiver) -> Plan:
    """Lay out every step this receiver needs and has access for, in order."""
    return plan_of(receiver.id, [step for kind in KINDS for step in kind.steps(receiver)])


def procedure_for(task: Task) -> Procedure[StepOutcome]:
    """Give the procedure of a task, not yet started."""
    return _BY_NAME[task.step.kind].procedure(task)
