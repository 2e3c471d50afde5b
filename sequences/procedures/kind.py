"""A kind of step: its name, how it is laid out for a receiver, and what carries it out."""

from collections.abc import Callable
from dataclasses import dataclass

from sequences.alignment.outcome import StepOutcome, Task
from sequences.engine.run import Procedure
from sequences.plan.content import Step
from sequences.quantities import Quantity
from sequences.receiver.model import Receiver

StepProcedure = Callable[[Task], Procedure[StepOutcome]]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of step.

    `steps` gives those a receiver needs and has access for; `procedure` carries out one, and gives figures of these
    `quantities`.
    """

    name: str
    steps: Callable[[Receiver], list[Step]]
    procedure: StepProcedure
    quantities: tuple[Quantity, ...]
