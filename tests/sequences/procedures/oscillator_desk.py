"""A receiver on paper for the oscillator procedures: two oscillators, crystals, and a person who turns what is asked.

Of the Skerry 7's frequency plan only: 520 kHz less the third oscillator is 85 kHz, beaten with the beat oscillator.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.asks import CANNOT, DONE
from sequences.engine.events import Asked
from sequences.engine.instruments import Bench, Mark, MeterReply
from sequences.engine.run import Limits, Procedure, run
from sequences.kinds import alignment_plan
from sequences.plan.content import WayName
from sequences.receiver.file import shipped_receivers
from sequences.receiver.model import Receiver
from tests.fakes import FakeClock, FakeMeter, FakeSource, Sink, StopAfter

NEAR_PULL_HZ = -2.0
FAR_PULL_HZ = -0.5
EAR_FAILS_BELOW_HZ = 30.0


def skerry() -> Receiver:
    """Give the receiver that the desk stands for."""
    return next(one for one in shipped_receivers() if one.id == "skerry-7")


def task_of(step_id: str, phase: Phase, way: WayName | None = None, receiver: Receiver | None = None) -> Task:
    """Give a step's task, in its first way or the one named."""
    receiver = receiver or skerry()
    step = alignment_plan(receiver).step(step_id)
    chosen = next(one for one in step.ways if way in (None, one.name))
    return Task(receiver, step, chosen, phase)


@dataclass
class Desk:
    """Instruments and person in one. Slugs lower their oscillator by `hz_per_turn` a turn clockwise.

    `travel_turns`: how far a slug goes either way. `silent`: the counter counts nothing; `deaf`: no
    note is heard. `volts`: the meter's reply.
    """

    third_hz: float = 435e3
    beat_hz: float = 85e3
    hz_per_turn: float = 300.0
    travel_turns: float = 6.0
    silent: bool = False
    deaf: bool = False
    volts: Callable[["Desk"], float | None] = lambda _: 0.0
    source: FakeSource = field(default_factory=FakeSource)
    leads: dict[str, str | None] = field(default_factory=dict)
    pick_up: str = ""
    controls: dict[str, str | float] = field(default_factory=dict)
    turned: dict[str, float] = field(default_factory=dict)
    asked: list[Asked] = field(default_factory=list)
    sink: Sink = field(default_factory=Sink)
    clock: FakeClock = field(default_factory=FakeClock)

    def run(self, procedure: Callable[[Task], Procedure[StepOutcome]], task: Task) -> StepOutcome:
        """Run a step to its end."""
        outcome = run(
            procedure(task),
            Bench(self.source, FakeMeter(self.source, lambda _: reply(self.volts(self))), self),
            emit=self.sink,
            stop=StopAfter(),
            clock=self.clock,
            limits=Limits(highest_power_dbm=-10.0),
            name=task.step.id,
            person=self,
        )
        assert not self.source.output_on
        return outcome

    # The counter.

    def read_frequency(self, gate_s: float) -> MeterReply:
        """Count what the counter's lead is at."""
        self.clock.time_s += gate_s
        if self.silent:
            return reply(None)
        pull_hz = FAR_PULL_HZ if "twice" in self.pick_up else NEAR_PULL_HZ
        at = {
            "third oscillator": self.third_now_hz() + pull_hz,
            "beat oscillator": self.beat_now_hz() + pull_hz,
            "audio": self.note_hz(self.source.frequency_hz) if self.source.output_on else None,
        }
        return reply(at[self.leads["counter"] or ""])

    def third_now_hz(self) -> float:
        """Where its slug has brought it."""
        return self.third_hz - self.hz_per_turn * self.turned.get("third oscillator slug", 0.0)

    def beat_now_hz(self) -> float:
        """Where its slug has brought it."""
        return self.beat_hz - self.hz_per_turn * self.turned.get("beat oscillator slug", 0.0)

    def note_hz(self, source_hz: float) -> float:
        """The beat: 85 kHz goes straight through the mixer, 520 kHz is converted."""
        arrives_hz = source_hz if source_hz < 200e3 else source_hz - self.third_now_hz()
        return abs(arrives_hz - self.beat_now_hz())

    # The person.

    def answer(self, asked: Asked) -> str:
        """Do what is asked."""
        self.asked.append(asked)
        if asked.action == "connect":
            self.leads = {role: asked.detail[role]["to"] for role in ("source", "meter", "counter")}
            self.pick_up = asked.detail["counter"]["through"] or ""
        elif asked.action == "set":
            self.controls[asked.subject] = asked.detail["to"]
        elif asked.action == "turn":
            return self._turn(asked)
        else:
            return self._listen(asked)
        return DONE

    def signal(self) -> str | None:
        """Never."""
        return None

    def _turn(self, asked: Asked) -> str:
        to = self.turned.get(asked.subject, 0.0) + asked.detail["turns"]
        if abs(to) > self.travel_turns:
            return CANNOT
        self.turned[asked.subject] = to
        return DONE

    def _listen(self, asked: Asked) -> str:
        note_hz = self.note_hz(self.source.frequency_hz)
        if self.deaf or note_hz < EAR_FAILS_BELOW_HZ:
            return "silent"
        if "rose" not in asked.answers:
            return "heard"
        return "rose" if note_hz > self.note_hz(asked.detail["from_hz"]) else "fell"


def reply(value: float | None) -> MeterReply:
    """A reading, or not a number."""
    if value is None or not math.isfinite(value):
        return MeterReply(None, Mark.NOT_A_NUMBER)
    return MeterReply(value)


def measure_only(task: Task) -> Task:
    """The same task with its adjusters set in the factory."""
    adjusters = tuple(replace(one, measure_only=True) for one in task.step.adjusters)
    return replace(task, step=replace(task.step, adjusters=adjusters))
