"""What stands on the bench: the leads as last connected and the controls as last set.

A step is run as found, adjusted and as left on one hookup, so most of what its procedure asks stands already. What
stands is not asked again; what may have been moved meanwhile is.
"""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field

from sequences.engine.asks import DONE
from sequences.engine.events import Asked
from sequences.engine.questions import TURN, ConnectLeads, Lead, SetControl
from sequences.receiver.model import Receiver

POINTER_KINDS = frozenset({"dial pointer", "knob on shaft"})


@dataclass(frozen=True, slots=True)
class Standing:
    """The leads as they are, None where nobody knows, and each control whose setting is known.

    `pointers` are the adjusters that move a pointer or a knob on its shaft, and so make a mark another place.
    """

    pointers: frozenset[str] = frozenset()
    leads: Mapping[str, Lead] | None = None
    controls: Mapping[str, str | float] = field(default_factory=dict)

    def holds(self, asked: Asked) -> bool:
        """Tell whether what is asked for stands already."""
        question = asked.question
        if isinstance(question, ConnectLeads):
            return self.leads is not None and self.leads == question.leads()
        return isinstance(question, SetControl) and self.controls.get(question.control) == question.to

    def after(self, asked: Asked, answer: str) -> "Standing":
        """Give what stands once a question was answered."""
        question = asked.question
        if isinstance(question, ConnectLeads):
            return self._connected(question, answer)
        if isinstance(question, SetControl):
            return dataclasses.replace(self, controls=self._set(question, answer))
        if asked.action == TURN and asked.subject in self.pointers:
            words = {name: to for name, to in self.controls.items() if isinstance(to, str)}
            return dataclasses.replace(self, controls=words)
        return self

    def _connected(self, question: ConnectLeads, answer: str) -> "Standing":
        if answer != DONE:
            return dataclasses.replace(self, leads=None)
        return dataclasses.replace(self, leads=question.leads(), controls={**self.controls, **question.controls})

    def _set(self, question: SetControl, answer: str) -> Mapping[str, str | float]:
        others = {name: to for name, to in self.controls.items() if name != question.control}
        return {**others, question.control: question.to} if answer == DONE else others


def nothing_stands(receiver: Receiver) -> Standing:
    """Give what is known of a receiver that has just come on the bench: nothing."""
    return Standing(frozenset(name for name, entry in receiver.adjusters.items() if entry.kind in POINTER_KINDS))
