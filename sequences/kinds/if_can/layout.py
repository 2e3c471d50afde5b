"""How cans are laid out: each pair of circuits that somebody may turn, the last one first."""

from sequences.plan.content import Step
from sequences.procedures.adjusting.circuit_layout import circuit_steps
from sequences.receiver.model import Receiver

NAME = "if can"
MEANING = (
    "A can holds a pair of tuned circuits that pass the receiver's inner signal, its intermediate frequency, and "
    "little else; off tune, the receiver hears less and keeps stations apart less well."
)


def steps(receiver: Receiver) -> list[Step]:
    """Align each can from the nearest point before it."""
    return circuit_steps(receiver, "double-tuned can", NAME, receiver.limits.can_gain_db, MEANING)
