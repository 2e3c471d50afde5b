"""The bench itself: one receiver, the leads on it, and the instruments' view of it. Safe to use from every thread."""

import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from simulators.clock import Clock
from simulators.physics.audio import Scene
from simulators.radios.catalogue import Model, Placed, shipped_models
from simulators.radios.leads import Lead, Signal
from simulators.radios.parts import Draw, HandError
from simulators.radios.radio import Conditions, Radio, Sight

_ROLES = ("source", "meter", "counter")


class View(Protocol):
    """What the instruments can do to the other ends of their leads."""

    def feed(self, signal: Signal | None) -> None:
        """Let the source send this, or nothing."""

    def sight(self, averaged_s: float) -> Sight:
        """What the meter's lead shows now, to a meter that averages over so long."""

    def count(self) -> float | None:
        """The frequency on the counter's lead, or None where nothing can be counted."""


@dataclass(frozen=True, slots=True)
class BenchSettings:
    """What stands on the bench: which unit of which of the models, how badly aligned, and how it behaves."""

    seed: int
    receiver_id: str
    models: Mapping[str, Model] = field(default_factory=shipped_models)
    misalignment: float = 1.0
    conditions: Conditions = field(default_factory=Conditions)


class Workbench:
    """One receiver with three leads."""

    def __init__(self, settings: BenchSettings, clock: Clock) -> None:
        self._settings = settings
        self._clock = clock
        self._lock = threading.RLock()
        self._seed = settings.seed
        self._signal: Signal | None = None
        self._units: dict[str, Placed] = {}
        self._put(settings.receiver_id)

    def _put(self, receiver_id: str) -> None:
        """Put another receiver on the bench, with the leads where one begins."""
        if receiver_id not in self._settings.models:
            raise HandError(f"There is no receiver {receiver_id!r} here; there are {', '.join(self._settings.models)}.")
        placed = self._units.get(receiver_id) or self._make(receiver_id)
        self._units[receiver_id] = placed
        self._radio: Radio = placed.radio
        self._tell = placed.tell
        self._leads = {role: Lead(self._radio.first_leads.get(role)) for role in _ROLES}
        self._advanced_to_s = self._clock.now_s()
        self._radio.feed(self._leads["source"], self._signal)

    def _make(self, receiver_id: str) -> Placed:
        draw = Draw(self._seed, self._settings.misalignment)
        return self._settings.models[receiver_id].make(draw, self._settings.conditions)

    # What the instruments do.

    def feed(self, signal: Signal | None) -> None:
        """Let the source send this, or nothing."""
        with self._lock:
            self._advance()
            self._signal = signal
            self._radio.feed(self._leads["source"], signal)

    def sight(self, averaged_s: float) -> Sight:
        """What the meter's lead shows now. Its noise is that of carrier and receiver, not the meter's."""
        with self._lock:
            self._advance()
            lead = self._leads["meter"]
            if lead.to is None:
                return Sight(0.0, 0.0)
            return self._radio.sight(lead.to, averaged_s)

    def scene(self) -> Scene:
        """What is to be heard of the receiver now."""
        with self._lock:
            self._advance()
            return self._radio.scene()

    def count(self) -> float | None:
        """The frequency on the counter's lead."""
        with self._lock:
            self._advance()
            lead = self._leads["counter"]
            return None if lead.to is None else self._radio.count(lead)

    # What the hands do.

    def describe(self) -> dict[str, object]:
        """Say what is on the bench."""
        with self._lock:
            leads = {role: {"to": lead.to, "through": lead.through} for role, lead in self._leads.items()}
            receivers = [{"id": key, "name": entry.name} for key, entry in self._settings.models.items()]
            return {"receivers": receivers, "receiver": self._radio.describe(), "leads": leads, "seed": self._seed}

    def choose_receiver(self, receiver_id: str) -> None:
        """Put another receiver on the bench; each stays as it was left. The one that stands there already stays."""
        with self._lock:
            if receiver_id != self._radio.id:
                self._put(receiver_id)

    def reseed(self, seed: int) -> None:
        """Put another unit of the same receiver on the bench."""
        with self._lock:
            self._seed = seed
            self._units.clear()
            self._put(self._radio.id)

    def cool(self) -> None:
        """Switch the receiver off until it is cold, and on again."""
        with self._lock:
            self._advance()
            self._radio.on_for_s = 0.0
            self._radio.changed()

    def connect(self, role: str, to: str | None, through: str | None) -> None:
        """Move a lead, or take it off."""
        with self._lock:
            self._advance()
            if role not in _ROLES:
                raise HandError(f"There is no lead {role!r}; there are {', '.join(_ROLES)}.")
            if to is not None:
                self._radio.check_point(role, to)
            self._leads[role] = Lead(to, through)
            self._radio.feed(self._leads["source"], self._signal)

    def set_control(self, name: str, to: object) -> None:
        """Set a control."""
        with self._lock:
            self._advance()
            self._radio.set_control(name, to)

    def turn(self, name: str, turns: float) -> tuple[float, float]:
        """Turn an adjuster; give how far it moved, and where it stands now."""
        with self._lock:
            self._advance()
            moved = self._radio.turn(name, turns)
            return moved, self._radio.adjusters[name].position_turns

    def truth(self) -> dict[str, object]:
        """Tell everything about the receiver as it stands."""
        with self._lock:
            self._advance()
            return self._tell(self._leads["meter"].to)

    def _advance(self) -> None:
        now_s = self._clock.now_s()
        self._radio.advance(now_s - self._advanced_to_s)
        self._advanced_to_s = now_s
