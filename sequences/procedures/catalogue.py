"""Which procedure carries out which kind of step. A new procedure is one line here."""

from collections.abc import Callable, Mapping

from sequences.alignment.outcome import StepOutcome, Task
from sequences.engine.run import Procedure
from sequences.errors import SequenceError
from sequences.plan.content import StepKind
from sequences.procedures.cans.if_can import if_can
from sequences.procedures.dials.dial import dial
from sequences.procedures.front_end.preselector import preselector
from sequences.procedures.front_end.single_peak import single_peak
from sequences.procedures.oscillators.crystal_activity import crystal_activity
from sequences.procedures.oscillators.fixed_oscillator import fixed_oscillator
from sequences.procedures.oscillators.warm_up import warm_up
from sequences.procedures.passbands.if_passband import if_passband
from sequences.procedures.passbands.passband_symmetry import passband_symmetry

StepProcedure = Callable[[Task], Procedure[StepOutcome]]

PROCEDURES: Mapping[StepKind, StepProcedure] = {
    StepKind.WARM_UP: warm_up,
    StepKind.OSCILLATOR: fixed_oscillator,
    StepKind.CAN: if_can,
    StepKind.PEAK: single_peak,
    StepKind.PASSBAND: if_passband,
    StepKind.SYMMETRY: passband_symmetry,
    StepKind.DIAL: dial,
    StepKind.ACTIVITY: crystal_activity,
    StepKind.PRESELECTOR: preselector,
}


def procedure_for(task: Task, procedures: Mapping[StepKind, StepProcedure] = PROCEDURES) -> Procedure[StepOutcome]:
    """Give the procedure of a task, not yet started.

    Raises:
        SequenceError: no procedure carries out steps of this kind.
    """
    procedure = procedures.get(task.step.kind)
    if procedure is None:
        raise SequenceError(no_procedure(task.step.kind))
    return procedure(task)


def no_procedure(kind: StepKind) -> str:
    """Say that steps of a kind cannot be carried out."""
    return f"Peakwright has no procedure for a step of the kind '{kind}' yet: do it by hand and go on with the next."
