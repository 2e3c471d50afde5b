"""A preselector on paper: two single circuits a band, a knob, two trimmers, a probe behind them, a person's hands.

Of the Skerry 7's plan: seven bands of 500 kHz, knob marks 2 to 8 over each. Each circuit is a resonance of its own
frequency and Q, written out from its admittance; a trimmer moves both by the cube of the frequency, as dC / 2C does
where coils are the same.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.asks import CANNOT, DONE
from sequences.engine.events import Asked
from sequences.engine.instruments import Bench, MeterReply
from sequences.engine.run import Limits, Procedure, run
from sequences.kinds import alignment_plan
from sequences.plan.content import WayName
from tests.fakes import FakeClock, FakeMeter, FakeSource, Sink, StopAfter
from tests.sequences.receiver_files import shipped

QUALITY = {"4.5": 80.0, "6": 78.0, "8.5": 75.0, "12": 72.0, "16": 66.0, "19": 58.0, "25.5": 50.0}
ANTENNA, MIXER = "preselector antenna trimmer", "preselector mixer trimmer"
TRIMMER_HZ_AT_25 = -150e3
"""What one turn clockwise moves a circuit by at 25.5 MHz."""

WINDOW_HZ = 2000.0
QUIET_V = 0.002


def preselector_task(phase: Phase, way: WayName = WayName.PROBE) -> Task:
    """Give the task of the preselector step."""
    receiver = shipped("skerry-7")
    step = alignment_plan(receiver).step("preselector")
    return Task(receiver, step, next(one for one in step.ways if one.name is way), phase)


@dataclass
class PreselectorDesk:
    """Instruments and person in one.

    `off_turns`: how far each trimmer was left from its best. `drifted`: by what share the capacitance of a band's
    mixer circuit has grown. `knob_off_marks`: how far the knob has slipped on its shaft. `dial_off_khz`: the dial's
    error. `travel_turns`: how far the trimmers go either way from where they were left.
    """

    off_turns: dict[str, float] = field(default_factory=dict)
    drifted: dict[str, float] = field(default_factory=dict)
    knob_off_marks: float = 0.0
    dial_off_khz: float = 0.0
    travel_turns: float = 6.0
    dead_band: str | None = None
    seed: int = 1
    turned: dict[str, float] = field(default_factory=dict)
    asked: list[Asked] = field(default_factory=list)
    controls: dict[str, str | float] = field(default_factory=dict)
    meter_to: str | None = None
    source: FakeSource = field(default_factory=FakeSource)
    clock: FakeClock = field(default_factory=FakeClock)
    sink: Sink = field(default_factory=Sink)

    def __post_init__(self) -> None:
        """Seed the noise."""
        self._random = np.random.default_rng(self.seed)

    def run(self, procedure: Callable[[Task], Procedure[StepOutcome]], task: Task) -> StepOutcome:
        """Run a step to its end; the output is off then."""
        outcome = run(
            procedure(task),
            Bench(self.source, FakeMeter(self.source, lambda _: MeterReply(self._volts()))),
            emit=self.sink,
            stop=StopAfter(),
            clock=self.clock,
            limits=Limits(highest_power_dbm=0.0),
            name=task.step.id,
            person=self,
        )
        assert not self.source.output_on
        return outcome

    def circuit_hz(self, adjuster: str, band: str, knob: float) -> float:
        """Where the circuit of a trimmer is tuned, on a band and with the knob at a mark."""
        meant_hz = (float(band) + 0.5 * (knob + self.knob_off_marks - 2.0) / 6.0) * 1e6
        turns = self.off_turns.get(adjuster, 0.0) + self.turned.get(adjuster, 0.0)
        moved_hz = turns * TRIMMER_HZ_AT_25 * (meant_hz / 25.5e6) ** 3
        share = self.drifted.get(band, 0.0) if adjuster == MIXER else 0.0
        return (meant_hz + moved_hz) / math.sqrt(1 + share)

    def gain(self, frequency_hz: float) -> float:
        """From antenna to mixer grid, as the controls stand."""
        band, knob = str(self.controls["band"]), float(self.controls["preselector"])
        admittance = 1.0 + 0.0j
        for adjuster in (ANTENNA, MIXER):
            tuned_hz = self.circuit_hz(adjuster, band, knob)
            admittance *= 1 + 1j * QUALITY[band] * (frequency_hz / tuned_hz - tuned_hz / frequency_hz)
        return 1 / abs(admittance)

    def _volts(self) -> float:
        volts = QUIET_V + abs(float(self._random.normal(0, 2e-5)))
        if not self.source.output_on or self.controls["band"] == self.dead_band:
            return volts
        signal_v = 3.0 * 10 ** (self.source.power_dbm / 20) * self.gain(self.source.frequency_hz)
        if self.meter_to == "detector":
            signal_v *= self._through_window(self.source.frequency_hz)
        wander = 10 ** (float(self._random.normal(0, 0.03)) / 20)
        return volts + signal_v**2 / math.hypot(signal_v, 0.1) * wander

    def _through_window(self, frequency_hz: float) -> float:
        """Give what passes a four-pole filter where the receiver is tuned."""
        tuned_hz = float(str(self.controls["band"])) * 1e6 + (float(self.controls["dial"]) + self.dial_off_khz) * 1e3
        return 1 / math.sqrt(1 + ((frequency_hz - tuned_hz) / (WINDOW_HZ / 2)) ** 8)

    def answer(self, asked: Asked) -> str:
        """Do what is asked."""
        self.asked.append(asked)
        if asked.action == "connect":
            assert not self.source.output_on
            self.meter_to = asked.detail["meter"]["to"]
        elif asked.action == "set":
            self.controls[asked.subject] = asked.detail["to"]
        elif asked.action == "turn":
            to = self.turned.get(asked.subject, 0.0) + asked.detail["turns"]
            if abs(to) > self.travel_turns:
                return CANNOT
            self.turned[asked.subject] = to
        return DONE

    def signal(self) -> str | None:
        """Never."""
        return None

    def turns_asked(self) -> set[str]:
        """Say which adjusters the person was asked to turn."""
        return {asked.subject for asked in self.asked if asked.action == "turn"}
