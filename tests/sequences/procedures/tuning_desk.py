"""A receiver on paper for the tuning procedures: a dial that errs, a window, a beat note, and a person's hands.

Of the Skerry 7's plan only: the source enters the second mixer, where the tunable IF runs from 3400 down to 2900 kHz
against the dial; behind it stand a maximally flat four-pole filter 2 kHz wide, the beat oscillator and the detector.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.asks import CANNOT, DONE
from sequences.engine.events import Asked
from sequences.engine.instruments import Bench, Mark, MeterReply
from sequences.engine.run import Limits, Procedure, run
from sequences.kinds import alignment_plan
from sequences.plan.content import WayName
from tests.fakes import FakeClock, FakeMeter, FakeSource, Sink, StopAfter
from tests.sequences.receiver_files import shipped

WIDTH_HZ = 2000.0
GAIN_V = 300.0
QUIET_V = 0.01

POINTER, TRIMMER, SLUG = "dial pointer", "tunable oscillator trimmer", "tunable oscillator slug"


def dial_task(phase: Phase, way: WayName = WayName.ZERO_BEAT) -> Task:
    """Give the task of the dial step."""
    receiver = shipped("skerry-7")
    step = alignment_plan(receiver).step("dial-second")
    return Task(receiver, step, next(one for one in step.ways if one.name is way), phase)


@dataclass
class TuningDesk:
    """Instruments and person in one.

    `error_khz`: the dial error at a shaft position from 0 to 1, with everything as found. A trimmer's turn clockwise
    raises it by 4 kHz at the low end and 2.4 at the high end, a slug's by 7.1 and 6. `travel_turns`: the
    ends of an adjuster's travel, anticlockwise and clockwise.
    `misread_khz`: how well the person sets the dial, one sigma. `dead_khz`: stretches of the dial where nothing comes
    through. `silent`: the counter counts nothing.
    """

    error_khz: Callable[[float], float]
    travel_turns: dict[str, tuple[float, float]] = field(default_factory=dict)
    misread_khz: float = 0.0
    dead_khz: tuple[float, float] | None = None
    silent: bool = False
    gain_v: float = GAIN_V
    seed: int = 1
    turned: dict[str, float] = field(default_factory=dict)
    asked: list[Asked] = field(default_factory=list)
    sink: Sink = field(default_factory=Sink)
    source: FakeSource = field(default_factory=FakeSource)
    clock: FakeClock = field(default_factory=FakeClock)
    dial_khz: float = 250.0

    def __post_init__(self) -> None:
        """Seed the noise."""
        self._random = np.random.default_rng(self.seed)

    def run(self, procedure: Callable[[Task], Procedure[StepOutcome]], task: Task) -> StepOutcome:
        """Run a step to its end; the output is off then."""
        meter = FakeMeter(self.source, lambda _: MeterReply(self._volts()))
        outcome = run(
            procedure(task),
            Bench(self.source, meter, self),
            emit=self.sink,
            stop=StopAfter(),
            clock=self.clock,
            limits=Limits(highest_power_dbm=-10.0),
            name=task.step.id,
            person=self,
        )
        assert not self.source.output_on
        return outcome

    def error_at(self, dial_khz: float) -> float:
        """Where the receiver really is, minus what the dial says, in kHz."""
        pointer_khz = self.turned.get(POINTER, 0.0)
        travel = (dial_khz - pointer_khz) / 500.0
        by_trimmer = self.turned.get(TRIMMER, 0.0) * (4.0 - 1.6 * travel)
        by_slug = self.turned.get(SLUG, 0.0) * (7.1 - 1.1 * travel)
        return self.error_khz(travel) - pointer_khz + by_trimmer + by_slug

    def window_hz(self) -> float:
        """Where the window is for the source."""
        return (3400.0 - self.dial_khz - self.error_at(self.dial_khz)) * 1e3

    def _volts(self) -> float:
        volts = QUIET_V + abs(self._random.normal(0, 1e-4))
        if self.source.output_on and not self._is_dead():
            x = (self.source.frequency_hz - self.window_hz()) / (WIDTH_HZ / 2)
            top_v = self.gain_v * 10 ** (self.source.power_dbm / 20)
            volts += top_v / math.sqrt(1 + x**8) * 10 ** (self._random.normal(0, 0.03) / 20)
        return float(volts)

    def _is_dead(self) -> bool:
        return self.dead_khz is not None and self.dead_khz[0] <= self.dial_khz <= self.dead_khz[1]

    def read_frequency(self, gate_s: float) -> MeterReply:
        """Count the beat; not a number where less than one period fits in the gate."""
        self.clock.time_s += gate_s
        beat_hz = abs(self.source.frequency_hz - self.window_hz())
        if self.silent or not self.source.output_on or beat_hz > 2 * WIDTH_HZ or beat_hz * gate_s < 1:
            return MeterReply(None, Mark.NOT_A_NUMBER)
        return MeterReply(beat_hz + float(self._random.normal(0, 0.5)))

    def answer(self, asked: Asked) -> str:
        """Do what is asked."""
        self.asked.append(asked)
        if asked.action == "connect":
            assert not self.source.output_on
        if asked.action == "set" and asked.subject == "dial":
            self.dial_khz = asked.detail["to"] + float(self._random.normal(0, self.misread_khz))
        if asked.action == "turn":
            return self._turn(asked.subject, asked.detail["turns"])
        return DONE

    def signal(self) -> str | None:
        """Never."""
        return None

    def _turn(self, adjuster: str, turns: float) -> str:
        to = self.turned.get(adjuster, 0.0) + turns
        least, most = self.travel_turns.get(adjuster, (-20.0, 20.0))
        if not least <= to <= most:
            return CANNOT
        self.turned[adjuster] = to
        if adjuster == POINTER:
            self.dial_khz += turns
        return DONE

    def turns_asked(self) -> set[str]:
        """Say which adjusters the person was asked to turn."""
        return {asked.subject for asked in self.asked if asked.action == "turn"}
