"""Walks a whole plan on a practice receiver, taking what is proposed, with the robot for a person."""

from dataclasses import dataclass, field

from sequences.alignment.advice import decide, order_of
from sequences.alignment.outcome import Task
from sequences.alignment.progress import (
    Progress,
    StepBegun,
    StepDecided,
    StepLeft,
    StepMeasured,
    StepRecord,
    next_phase,
    next_step,
    noted,
)
from sequences.alignment.standing import Standing, nothing_stands
from sequences.engine.asks import DONE
from sequences.engine.events import Asked
from sequences.plan.content import Step
from sequences.plan.order import Plan, alignment_plan
from sequences.procedures.catalogue import procedure_for
from tests.bench.robot import Robot
from tests.bench.steps import StepBench


@dataclass
class RobotWithMemory(Robot):
    """Is asked for nothing that stands already."""

    standing: Standing = field(default_factory=Standing)

    def answer(self, asked: Asked) -> str:
        """Do it, unless it stands."""
        if self.standing.holds(asked):
            return DONE
        answer = super().answer(asked)
        self.standing = self.standing.after(asked, answer)
        return answer


def walk_plan(bench: StepBench, last_step: str | None = None) -> Progress:
    """Do every step of the plan, as proposed, until none is left or the last one wanted has ended."""
    plan, progress = alignment_plan(bench.receiver), Progress(bench.receiver.id)
    bench.robot = RobotWithMemory(bench.bench, bench.robot.coarse_turns, standing=nothing_stands(bench.receiver))
    while (step := next_step(plan, progress)) is not None and progress.record(last_step or "") is None:
        progress = _one_more_note(bench, plan, progress, step)
    return progress


def _one_more_note(bench: StepBench, plan: Plan, progress: Progress, step: Step) -> Progress:
    if progress.current is None:
        order = order_of(plan, progress, step.id)
        if order.refused:
            return noted(progress, StepLeft(step.id, " ".join(order.reasons), order.blocked_by))
        return noted(progress, StepBegun(step.id, step.ways[0].name))
    return noted(progress, _go_on(bench, step, progress.current))


def _go_on(bench: StepBench, step: Step, record: StepRecord) -> StepMeasured | StepDecided:
    phase = next_phase(record)
    if phase is None:
        return StepDecided(step.id, decide(step, record).proposal)
    way = next(one for one in step.ways if one.name is record.way)
    outcome = bench.run(
        procedure_for, step.id, phase, lambda task: Task(task.receiver, step, way, phase, before=record.last)
    )
    return StepMeasured(outcome, bench.clock.now())
