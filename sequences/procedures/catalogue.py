"""Which procedure carries out which kind of step. A new procedure is one line here."""

from collections.abc import Callable, Mapping

from sequences.engine import Procedure
from sequences.errors import SequenceError
from sequences.outcome import StepOutcome, Task
from sequences.plan_content import StepKind
from sequences.procedures.dial import dial
from sequences.procedures.fixed_oscillator import fixed_oscillator
from sequences.procedures.single_peak import single_peak
from sequences.procedures.warm_up import warm_up

StepProcedure = Callable[[Task], Procedure[StepOutcome]]

PROCEDURES: Mapping[StepKind, StepProcedure] = {
    StepKind.WARM_UP: warm_up,
    StepKind.OSCILLATOR: fixed_oscillator,
    StepKind.PEAK: single_peak,
    StepKind.DIAL: dial,
}


def procedure_for(task: Task) -> Procedure[StepOutcome]:
    """Give the procedure of a task, not yet started.

    Raises:
        SequenceError: no procedure carries out steps of this kind.
    """
    procedure = PROCEDURES.get(task.step.kind)
    if procedure is None:
        raise SequenceError(no_procedure(task.step.kind))
    return procedure(task)


def no_procedure(kind: StepKind) -> str:
    """Say that steps of a kind cannot be carried out."""
    return f"Peakwright has no procedure for a step of the kind '{kind}' yet: do it by hand and go on with the next."
