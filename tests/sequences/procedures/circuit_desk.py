"""A receiver on the desk, as tuned circuits written down here on their own, with a person who turns their slugs.

The circuits are solved at their nodes; the detector squares weak carriers and is held by AGC or bent at strong ones.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.events import Asked, Notice
from sequences.engine.instruments import Bench, Mark, MeterReply
from sequences.engine.run import Limits, Procedure, run
from sequences.kinds import alignment_plan
from sequences.receiver.file import shipped_receivers
from sequences.receiver.model import Receiver
from tests.fakes import FakeClock, FakeMeter, FakeSource, Sink, StopAfter

CAPACITANCE_F = 200e-12


def shipped(receiver_id: str) -> Receiver:
    """Give a receiver that comes with the program."""
    return next(one for one in shipped_receivers() if one.id == receiver_id)


def task_of(receiver: Receiver, step_id: str, phase: Phase) -> Task:
    """Give a step of a receiver's plan in its first way."""
    step = alignment_plan(receiver).step(step_id)
    return Task(receiver, step, step.ways[0], phase)


@dataclass
class Slug:
    """An adjuster's feel: where it stands and where it would be right, in turns; its ends; whether it sits fast."""

    at: float = 0.0
    right_at: float = 0.0
    low_end: float = -6.0
    high_end: float = 6.0
    seized: bool = False

    def turn(self, turns: float) -> float:
        """Turn, as far as it goes; give how far it went."""
        if self.seized:
            return 0.0
        before = self.at
        self.at = min(self.high_end, max(self.low_end, self.at + turns))
        return self.at - before

    @property
    def share(self) -> float:
        """How much too much inductance or capacitance it makes: one per cent a turn in."""
        return 0.01 * (self.at - self.right_at)


def pair_gain(frequency_hz: float, tuned_hz: float, q: float, coupling: float, shares: tuple[float, float]) -> float:
    """Give the voltage of the second of two coupled circuits for a current into the first, 1 at most when matched."""
    omega, right = 2 * math.pi * frequency_hz, 2 * math.pi * tuned_hz
    coil_h = 1 / (right**2 * CAPACITANCE_F)
    inductance = np.diag([coil_h * (1 + share) for share in shares])
    inductance[0, 1] = inductance[1, 0] = coupling / q * math.sqrt(inductance[0, 0] * inductance[1, 1])
    loss_s = right * CAPACITANCE_F / q
    admittance = (loss_s + 1j * omega * CAPACITANCE_F) * np.eye(2) + np.linalg.inv(inductance) / (1j * omega)
    return float(2 * loss_s * abs(np.linalg.solve(admittance, np.array([1.0, 0.0]))[1]))


def single_gain(frequency_hz: float, tuned_hz: float, q: float, share: float = 0.0) -> float:
    """Give the voltage across one circuit for a current into it, 1 at resonance; `share` of capacitance too much."""
    omega, right = 2 * math.pi * frequency_hz, 2 * math.pi * tuned_hz
    coil_h = 1 / (right**2 * CAPACITANCE_F)
    loss_s = right * CAPACITANCE_F / q
    admittance = loss_s + 1j * (omega * CAPACITANCE_F * (1 + share) - 1 / (omega * coil_h))
    return loss_s / abs(admittance)


@dataclass(frozen=True)
class Detector:
    """What the meter sees of a carrier: square law up to 50 mV, then linear, held by AGC and bent by a ceiling.

    `agc_volts` is the detector voltage above which AGC takes half of every further decibel; the meter reports overload
    above `overload_volts`.
    """

    agc_volts: float = math.inf
    ceiling_volts: float = math.inf
    overload_volts: float = math.inf
    noise_db: float = 0.03

    def volts(self, carrier_volts: float) -> float:
        """Give the voltage for a carrier."""
        volts = carrier_volts**2 / math.hypot(carrier_volts, 0.05) if carrier_volts else 0.0
        if volts > self.agc_volts:
            volts = self.agc_volts * (volts / self.agc_volts) ** 0.5
        return (
            self.ceiling_volts * math.tanh(volts / self.ceiling_volts) if math.isfinite(self.ceiling_volts) else volts
        )


@dataclass
class CircuitDesk:
    """A receiver, its instruments, and a person at it.

    `gain` gives the receiver's voltage gain at a frequency with the source at a point.
    """

    receiver: Receiver
    slugs: Mapping[str, Slug]
    gain: Callable[["CircuitDesk", float, str], float]
    detector: Detector = Detector()
    seed: int = 1
    leads: dict[str, str | None] = field(default_factory=dict)
    controls: dict[str, object] = field(default_factory=dict)
    asked: list[Asked] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Set up the instruments."""
        self.source = FakeSource()
        self.meter = FakeMeter(self.source, self._read)
        self.sink = Sink()
        self.clock = FakeClock()
        self._random = np.random.default_rng(self.seed)

    def _read(self, source: FakeSource) -> MeterReply:
        noisy = 10 ** (float(self._random.normal(0, self.detector.noise_db)) / 20)
        floor_v = 1e-4 * abs(float(self._random.normal()))
        if not source.output_on:
            return MeterReply(floor_v)
        sent_v = 0.2236 * 10 ** (source.power_dbm / 20)
        volts = self.detector.volts(sent_v * self.gain(self, source.frequency_hz, self.leads["source"] or "") * noisy)
        if volts > self.detector.overload_volts:
            return MeterReply(None, Mark.OVERLOAD)
        return MeterReply(volts + floor_v)

    def answer(self, asked: Asked) -> str:
        """Do what is asked; only leads, controls, slugs."""
        self.asked.append(asked)
        if asked.action == "connect":
            assert not self.source.output_on
            assert asked.detail["cautions"]
            self.leads = {role: asked.detail[role]["to"] for role in ("source", "meter", "counter")}
        elif asked.action == "set":
            self.controls[asked.subject] = asked.detail["to"]
        else:
            assert asked.action == "turn"
            turns = float(asked.detail["turns"])
            moved = self.slugs[asked.subject].turn(turns)
            return "done" if abs(moved - turns) <= 0.25 * abs(turns) else "cannot"
        return "done"

    def signal(self) -> str | None:
        """It never taps."""
        return None

    def run(self, procedure: Callable[[Task], Procedure[StepOutcome]], task: Task) -> StepOutcome:
        """Run a procedure to its end; the output must be off afterwards."""
        highest = max(point.highest_level_dbm for point in task.receiver.source_points.values())
        outcome = run(
            procedure(task),
            Bench(source=self.source, meter=self.meter),
            emit=self.sink,
            stop=StopAfter(),
            clock=self.clock,
            limits=Limits(highest_power_dbm=highest),
            name=task.step.id,
            person=self,
        )
        assert not self.source.output_on
        return outcome

    def turns(self) -> list[Asked]:
        """Give the turns asked for."""
        return [asked for asked in self.asked if asked.action == "turn"]

    def notices(self) -> list[str]:
        """Give what the person was told."""
        return [event.text for event in self.sink.events if isinstance(event, Notice)]


def measure_only(task: Task, *names: str) -> Task:
    """Give the task with these adjusters set in the factory."""
    adjusters = tuple(
        replace(adjuster, measure_only=adjuster.measure_only or adjuster.name in names)
        for adjuster in task.step.adjusters
    )
    return replace(task, step=replace(task.step, adjusters=adjusters))
