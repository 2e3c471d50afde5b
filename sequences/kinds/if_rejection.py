"""IF rejection: how much stronger a signal on the first IF itself must be to be heard like the wanted one.

It goes straight through the first mixer, and only the circuits before that, and a trap where there is one, hold it
off. Source: IEC 60315-3, intermediate-frequency rejection ratio, by equal output (from memory).
"""

from sequences.alignment.outcome import StepOutcome, Task
from sequences.engine.run import Procedure
from sequences.plan.content import Culprit, Limit, Step
from sequences.procedures.antenna import antenna_step
from sequences.procedures.kind import Kind
from sequences.procedures.rejection import Unwanted, rejection
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.model import Receiver

NAME = "IF rejection"
REJECTION = Quantity(
    "if-rejection",
    "IF rejection",
    "dB",
    Sense.AT_LEAST,
    "how much stronger a station on the first IF must be to be heard like the wanted one",
    Phrase("at {size} against its first IF"),
)
BOUND = Quantity(
    "if-rejection-bound",
    "IF rejection, at least",
    "dB",
    Sense.AT_LEAST,
    "what the first IF is down by at least, where it was not heard at the source's highest level",
    Phrase("at {size} or more against its first IF"),
)
WORDS = (
    "the source's level on the signal and on the first IF, for the same output",
    "at the same output the detector's law and gain control are the same, and only what holds the IF off differs",
)
MEANING = "A strong station on the receiver's own IF goes straight through its mixer and is heard all over the dial."
FIRST_IF = Unwanted(REJECTION, BOUND, "first IF", lambda first: first.gives_khz)


def if_rejection(task: Task) -> Procedure[StepOutcome]:
    """Measure every band; nothing is turned."""
    return (yield from rejection(task, FIRST_IF))


def _steps(receiver: Receiver) -> list[Step]:
    least_db = receiver.limits.if_rejection_db
    if least_db is None:
        return []
    return antenna_step(receiver, NAME, Limit(REJECTION, least_db), WORDS, MEANING, points_at=Culprit.INPUT)


KIND = Kind(NAME, _steps, if_rejection, (REJECTION, BOUND))
