"""Weaknesses that can be built into a simulated receiver: parts that fail in one place, whatever the alignment."""

from collections.abc import Callable, Collection
from dataclasses import replace

import numpy as np

from sequences.alignment.look_first import culprit_of
from sequences.alignment.outcome import Phase
from sequences.alignment.progress import Choice, Progress, StepBegun, StepDecided, StepMeasured, noted
from sequences.kinds import procedure_for
from sequences.plan.content import Culprit
from simulators.radios.chain import Amplifier, Circuit, Stage
from simulators.radios.radio import Radio
from tests.bench.in_process import InProcess
from tests.bench.robot import Robot

WEAK_GAIN = 10.0 ** (-25.0 / 20.0)
"""A valve that gives 25 dB less."""

Weaken = Callable[[Radio], None]


WELL_ALIGNED = 0.1
"""How far units with a weakness are from well aligned, against 1 for one that someone left."""


def named_culprit(bench: InProcess, steps: Collection[str]) -> Culprit | None:
    """Measure these steps of the plan, and give what they point at together."""
    plan, progress = bench.plan(), Progress(bench.receiver.id)
    for step in plan.steps:
        if step.id in steps:
            task = bench.task(step.id, Phase.AS_FOUND)
            outcome = bench.run(procedure_for(task), Robot(bench), step.id)
            for note in (
                StepBegun(step.id, task.way.name),
                StepMeasured(outcome, 0.0),
                StepDecided(step.id, Choice.LEAVE),
            ):
                progress = noted(progress, note)
    return culprit_of(plan, progress)


def weak_valve(radio: Radio) -> None:
    """Let 25 dB be lost right before the first mixer."""
    _with_input(radio, lambda stages: [*stages, Amplifier(WEAK_GAIN)])


def wrong_input_filter(radio: Radio) -> None:
    """Put an untuned stage of the same gain in the place of the first circuit behind the antenna."""

    def untuned(stages: list[Stage]) -> list[Stage]:
        first, *others = stages
        assert isinstance(first, Circuit)
        gains = first.gains(np.geomspace(3e5, 4e7, 20_000))
        return [Amplifier(float(gains.max())), *others]

    _with_input(radio, untuned)


def stuck_gain_control(radio: Radio) -> None:
    """Let the control line stand still, whatever the detector gives."""
    radio.control_law = replace(radio.control_law, volts_per_volt=0.0)


def _with_input(radio: Radio, change: Callable[[list[Stage]], list[Stage]]) -> None:
    """Change the stages between the antenna and the first mixer."""
    made = radio.make_stages

    def make_stages(point: str) -> list[Stage]:
        stages = made(point)
        return change(stages) if point == radio.source_points[0] else stages

    radio.make_stages = make_stages  # type: ignore[method-assign]


WEAKNESSES: dict[str, tuple[Weaken | None, Culprit | None]] = {
    "none": (None, None),
    "weak valve": (weak_valve, Culprit.VALVES),
    "wrong input filter": (wrong_input_filter, Culprit.INPUT),
    "stuck gain control": (stuck_gain_control, Culprit.CONTROL),
}
