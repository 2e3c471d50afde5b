"""What stands on the bench: the leads as last connected and the controls as last set.

A step is run as found, adjusted and as left on one hookup, so most of what its procedure asks stands already. What
stands is not asked again; what may have been moved meanwhile is.
"""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from sequences.engine.asks import DONE
from sequences.engine.events import Asked
from sequences.receiver.model import Receiver

POINTER_KINDS = frozenset({"dial pointer", "knob on shaft"})
ROLES = ("source", "meter", "counter")


@dataclass(frozen=True, slots=True)
class Standing:
    """The leads as they are, None where nobody knows, and each control whose setting is known.

    `pointers` are the adjusters that move a pointer or a knob on its shaft, and so make a mark another place.
    """

    pointers: frozenset[str] = frozenset()
    leads: Mapping[str, Any] | None = None
    controls: Mapping[str, str | float] = field(default_factory=dict)

    def holds(self, asked: Asked) -> bool:
        """Tell whether what is asked for stands already."""
        if asked.action == "connect":
            return self.leads is not None and self.leads == _leads(asked)
        if asked.action == "set" and "to" in asked.detail:
            return bool(self.controls.get(asked.subject) == asked.detail["to"])
        return False

    def after(self, asked: Asked, answer: str) -> "Standing":
        """Give what stands once a question was answered."""
        if asked.action == "connect":
            return self._connected(asked, answer)
        if asked.action == "set":
            return dataclasses.replace(self, controls=self._set(asked, answer))
        if asked.action == "turn" and asked.subject in self.pointers:
            words = {name: to for name, to in self.controls.items() if isinstance(to, str)}
            return dataclasses.replace(self, controls=words)
        return self

    def _connected(self, asked: Asked, answer: str) -> "Standing":
        if answer != DONE:
            return dataclasses.replace(self, leads=None)
        controls = {**self.controls, **asked.detail.get("controls", {})}
        return dataclasses.replace(self, leads=_leads(asked), controls=controls)

    def _set(self, asked: Asked, answer: str) -> Mapping[str, str | float]:
        others = {name: to for name, to in self.controls.items() if name != asked.subject}
        return {**others, asked.subject: asked.detail["to"]} if answer == DONE and "to" in asked.detail else others


def nothing_stands(receiver: Receiver) -> Standing:
    """Give what is known of a receiver that has just come on the bench: nothing."""
    return Standing(frozenset(name for name, entry in receiver.adjusters.items() if entry.kind in POINTER_KINDS))


def _leads(asked: Asked) -> Mapping[str, Any]:
    return {role: asked.detail.get(role) for role in ROLES}
