"""A practice bench in the test's own process and in a time of its own: the simulators' physics without their sockets.

The instruments are the simulators' own, told and asked in SCPI as over the wire; only the wire and the drivers are left
out. A run of a step then costs what its arithmetic costs, however long it lasts on the bench.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.instruments import Bench, Mark, MeterReply
from sequences.engine.run import Limits, Person, Procedure, run
from sequences.kinds import alignment_plan
from sequences.plan.order import Plan
from simulators.clock import SteppedClock
from simulators.hands import Hands
from simulators.instruments.counter import FrequencyCounter
from simulators.instruments.delays import Delays
from simulators.instruments.meter import MeterNoise, Multimeter
from simulators.instruments.source import SignalSource
from simulators.physics.noise import NoiseStream
from simulators.radios.catalogue import Model, Placed, shipped_models
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions, Radio
from simulators.scpi.device import Device
from simulators.workbench import BenchSettings, Workbench
from tests.fakes import Sink, StopAfter
from tests.sequences.receiver_files import shipped

if TYPE_CHECKING:
    from sequences.receiver.model import Receiver

OVERLOAD_V = 9e37
"""At and above: the mark for overload or for no number (SCPI-99, 7.2.1.4 and 7.2.1.5)."""


def _told(device: Device, message: str) -> str:
    reply = device.execute(message)
    error = device.execute("SYST:ERR?") or ""
    assert error.startswith(("0,", "+0,")), f"{message}: {error}"
    return reply or ""


def _reply(text: str) -> MeterReply:
    value = float(text)
    return MeterReply(value) if abs(value) < OVERLOAD_V else MeterReply(None, Mark.OVERLOAD)


@dataclass
class _Source:
    device: Device

    def set_frequency(self, frequency_hz: float) -> None:
        """Set it, and wait until it has settled."""
        _told(self.device, f"FREQ {frequency_hz:.4f};*OPC?")

    def set_power(self, power_dbm: float) -> None:
        """Set it, and wait until it has settled."""
        _told(self.device, f"POW {power_dbm:.4f};*OPC?")

    def set_output(self, on: bool) -> None:
        """Switch it."""
        _told(self.device, f"OUTP {int(on)};*OPC?")

    def check_standing(self) -> None:
        """It stands as it was told: there is no wire to lose."""

    def make_safe(self) -> bool:
        """Switch it off."""
        self.set_output(False)
        return True


@dataclass
class _Meter:
    device: Device

    def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> MeterReply:  # noqa: ARG002 - done after it
        """Read once."""
        return _reply(_told(self.device, "READ?"))


@dataclass
class _Counter:
    device: Device

    def read_frequency(self, gate_s: float) -> MeterReply:
        """Count once."""
        return _reply(_told(self.device, f"FREQ:APER {gate_s};:READ?"))


@dataclass
class BenchTime:
    """The bench's time, as a run is given it."""

    clock: SteppedClock

    def now(self) -> float:
        """Give the bench's time."""
        return self.clock.now_s()

    def sleep(self, duration_s: float) -> None:
        """Let time pass."""
        self.clock.wait(duration_s)


@dataclass
class InProcess:
    """A receiver on a bench. `meter_s`: how long one reading of the meter takes.

    `misalignment`: how far it is from well aligned, 1 as someone left it. `weaken` builds a weakness into its unit.
    """

    receiver_id: str
    seed: int
    meter_s: float = 0.2
    misalignment: float = 1.0
    weaken: Callable[[Radio], None] | None = None
    sink: Sink = field(default_factory=Sink)

    def __post_init__(self) -> None:
        """Put it there."""
        self.receiver: Receiver = shipped(self.receiver_id)
        self._stepped = SteppedClock()
        self.clock = BenchTime(self._stepped)
        delays = Delays(source=0.005, meter=self.meter_s, counter=None)
        settings = BenchSettings(self.seed, self.receiver_id, self._models(), self.misalignment)
        self.workbench = Workbench(settings, self._stepped)
        noise = MeterNoise(NoiseStream(self.seed, 21))
        self._devices: dict[str, Device] = {
            "source": SignalSource("Practice,Source,1,1", self._stepped, delays, self.workbench),
            "meter": Multimeter("Practice,Meter,1,1", self._stepped, delays, self.workbench, noise),
            "counter": FrequencyCounter(
                "Practice,Counter,1,1", self._stepped, delays, self.workbench, NoiseStream(self.seed, 22)
            ),
        }
        self._hands = Hands(self.workbench, {}, self._stepped)
        self.source, self.meter, self.counter = "source", "meter", "counter"

    def _models(self) -> dict[str, Model]:
        """Give the receivers that ship, each unit with the weakness built in."""

        def weakened(model: Model, draw: Draw, conditions: Conditions) -> Placed:
            placed = model.make(draw, conditions)
            if self.weaken is not None:
                self.weaken(placed.radio)
            return placed

        return {key: Model(model.name, partial(weakened, model)) for key, model in shipped_models().items()}

    def do(self, **task: Any) -> dict[str, Any]:  # noqa: ANN401 - JSON
        """Have the hands do one thing."""
        reply = self._hands.answer(json.dumps(task).encode())
        assert reply is not None
        told: dict[str, Any] = json.loads(reply.data)
        assert told["ok"], told
        return told

    def ask(self, role: str, question: str) -> str:
        """Put one SCPI question to an instrument."""
        return _told(self._devices[role], question)

    def truth(self) -> dict[str, Any]:
        """Give the simulator's own truth."""
        truth: dict[str, Any] = self.do(do="truth")["truth"]
        return truth

    def bench(self) -> Bench:
        """Give the instruments."""
        return Bench(
            _Source(self._devices["source"]), _Meter(self._devices["meter"]), _Counter(self._devices["counter"])
        )

    def plan(self) -> Plan:
        """Give the receiver's plan."""
        return alignment_plan(self.receiver)

    def task(self, step_id: str, phase: Phase, **changes: Any) -> Task:  # noqa: ANN401 - a task's own fields
        """Give the task of a step of this receiver's plan, in its first way."""
        step = alignment_plan(self.receiver).step(step_id)
        return replace(Task(self.receiver, step, step.ways[0], phase), **changes)

    def run(self, procedure: Procedure[StepOutcome], person: Person, name: str = "step") -> StepOutcome:
        """Run a procedure to its end; the source's output must be off afterwards."""
        points = {key: point.highest_level_dbm for key, point in self.receiver.source_points.items()}
        outcome = run(
            procedure,
            self.bench(),
            emit=self.sink,
            stop=StopAfter(),
            clock=self.clock,
            limits=Limits(max(points.values()), highest_by_point=points),
            name=name,
            person=person,
        )
        assert self.ask("source", "OUTP?") == "0"
        return outcome
