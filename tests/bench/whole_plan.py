"""Walks a whole plan on a practice receiver, taking what is proposed, with the robot for a person."""

from dataclasses import dataclass, field
from typing import TypeVar

from sequences.alignment.advice import decide, order_of
from sequences.alignment.kept import Kept
from sequences.alignment.outcome import Task
from sequences.alignment.progress import (
    Choice,
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
from sequences.engine.events import Asked, in_words
from sequences.engine.questions import ADJUST, CHOOSE, CONNECT, SET, TURN, Choose
from sequences.kinds import alignment_plan, procedure_for
from sequences.plan.content import Step
from sequences.plan.order import Plan
from tests.bench.robot import Robot
from tests.bench.steps import StepBench

T = TypeVar("T")

HUMAN_S = {CONNECT: 60.0, SET: 6.0, TURN: 8.0, ADJUST: 5.0, CHOOSE: 4.0}
"""How long a person takes over a question (common practice, no source): leads with the power off and on again, a
control, a counted turn, taking hold, a decision."""


@dataclass
class RobotWithMemory(Robot):
    """Is asked for nothing that stands already. `begun`: each step with how many questions had been asked before it."""

    standing: Standing = field(default_factory=Standing)
    kept: Kept = field(default_factory=Kept)
    begun: list[tuple[str, int]] = field(default_factory=list)

    @property
    def human_s(self) -> float:
        """How long a person takes over what was asked."""
        return sum(HUMAN_S[asked.action] for asked in self.done)

    def by_step(self) -> dict[str, list[Asked]]:
        """Give the questions of each step."""
        ends = [*(first for _, first in self.begun[1:]), len(self.done)]
        asked: dict[str, list[Asked]] = {}
        for (step_id, first), end in zip(self.begun, ends, strict=True):
            asked.setdefault(step_id, []).extend(self.done[first:end])
        return asked

    def answer(self, asked: Asked) -> str:
        """Do it, unless it stands."""
        if self.standing.holds(asked):
            return DONE
        answer = super().answer(asked)
        self.standing = self.standing.after(asked, answer)
        return answer


class Forgetful(Kept):
    """Keeps nothing: each run begins as if it were the first."""

    def _recent(self, entry: tuple[float, object] | None, kind: type[T]) -> T | None:  # noqa: ARG002
        return None


def walk_plan(bench: StepBench, last_step: str | None = None, kept: Kept | None = None) -> Progress:
    """Do every step of the plan, as proposed, until none is left or the last one wanted has ended."""
    plan, progress = alignment_plan(bench.receiver), Progress(bench.receiver.id)
    bench.robot = robot = RobotWithMemory(
        bench.bench,
        bench.robot.coarse_turns,
        standing=nothing_stands(bench.receiver),
        kept=kept or Kept(bench.clock.now),
    )
    while (step := next_step(plan, progress)) is not None and progress.record(last_step or "") is None:
        progress = _one_more_note(bench, robot, plan, progress, step)
    return progress


def _one_more_note(bench: StepBench, robot: RobotWithMemory, plan: Plan, progress: Progress, step: Step) -> Progress:
    if progress.current is None:
        order = order_of(plan, progress, step.id)
        if order.refused:
            return noted(progress, StepLeft(step.id, " ".join(order.reasons), order.blocked_by))
        robot.begun.append((step.id, len(robot.done)))
        robot.answer(in_words(Choose("way"), step.title, tuple(way.name for way in step.ways)))
        return noted(progress, StepBegun(step.id, step.ways[0].name))
    return noted(progress, _go_on(bench, robot, step, progress.current))


def _go_on(bench: StepBench, robot: RobotWithMemory, step: Step, record: StepRecord) -> StepMeasured | StepDecided:
    phase = next_phase(record)
    if phase is None:
        decision = decide(step, record)
        if decision.proposal is not Choice.ADJUST:
            robot.kept.forget_figures()
        if len(decision.choices) > 1:
            robot.answer(in_words(Choose(f"decision {step.id}"), decision.reason, decision.choices))
        return StepDecided(step.id, decision.proposal)
    way = next(one for one in step.ways if one.name is record.way)
    outcome = bench.run(
        procedure_for,
        step.id,
        phase,
        lambda task: Task(task.receiver, step, way, phase, before=record.last, kept=robot.kept),
    )
    return StepMeasured(outcome, bench.clock.now())
