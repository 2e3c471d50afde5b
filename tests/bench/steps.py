"""One step of a plan, run over real sockets on a practice receiver, with the robot for a person."""

from collections.abc import Callable, Generator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.events import Asked, Notice
from sequences.engine.instruments import Bench
from sequences.engine.run import Limits, Procedure, run
from sequences.kinds import alignment_plan
from sequences.receiver.file import shipped_receivers
from sequences.receiver.model import Receiver
from server.bench.file import BenchFile
from server.wiring import open_bench
from tests.bench.bench_time import BenchClock, CounterInTime, MeterInTime, SourceInTime
from tests.bench.in_process import BenchTime, InProcess
from tests.bench.practice import Practice, practice
from tests.bench.robot import Robot
from tests.fakes import FakeClock, Sink, StopAfter


def shipped(receiver_id: str) -> Receiver:
    """Give a receiver that comes with the program."""
    return next(one for one in shipped_receivers() if one.id == receiver_id)


FINGERS_TURNS = 1 / 50
"""What fingers can set."""


@dataclass
class StepBench:
    """A practice receiver, and what happened on it."""

    receiver: Receiver
    bench: Practice | InProcess
    robot: Robot
    clock: FakeClock | BenchClock | BenchTime = field(default_factory=FakeClock)
    sink: Sink = field(default_factory=Sink)

    def task(self, step_id: str, phase: Phase) -> Task:
        """Give the task of a step of this receiver's plan, in its first way."""
        step = alignment_plan(self.receiver).step(step_id)
        return Task(self.receiver, step, step.ways[0], phase)

    def run(
        self,
        procedure: Callable[[Task], Procedure[StepOutcome]],
        step_id: str,
        phase: Phase,
        change: Callable[[Task], Task] = lambda task: task,
    ) -> StepOutcome:
        """Run a procedure to its end; the source's output must be off afterwards."""
        task = change(self.task(step_id, phase))
        if isinstance(self.bench, InProcess):
            return self.bench.run(procedure(task), self.robot, step_id)
        highest = max(point.highest_level_dbm for point in task.receiver.source_points.values())
        link = open_bench(
            BenchFile.model_validate(
                {role: {"address": getattr(self.bench, role)} for role in ("source", "meter", "counter")}
            )
        )
        try:
            outcome = run(
                procedure(task),
                self._in_time(link.bench),
                emit=self.sink,
                stop=StopAfter(),
                clock=self.clock,
                limits=Limits(highest_power_dbm=highest),
                name=step_id,
                person=self.robot,
            )
        finally:
            link.close()
        assert self.bench.ask(self.bench.source, "OUTP?") == "0"
        return outcome

    def _in_time(self, bench: Bench) -> Bench:
        """Give the instruments, looked at in the bench's own time where that is stepped."""
        if not isinstance(self.clock, BenchClock) or bench.source is None or bench.meter is None:
            return bench
        counter = None if bench.counter is None else CounterInTime(bench.counter, self.clock)
        return Bench(SourceInTime(bench.source, self.clock), MeterInTime(bench.meter, self.clock), counter)

    def put_unit(self, seed: int) -> None:
        """Put another unit on the bench."""
        self.bench.do(do="reseed", seed=seed)
        self.robot.done.clear()

    def truth(self) -> dict[str, Any]:
        """Give the simulator's own truth."""
        truth: dict[str, Any] = self.bench.do(do="truth")["truth"]
        return truth

    def notices(self) -> list[str]:
        """Give what the person was told meanwhile."""
        return [event.text for event in self.sink.events if isinstance(event, Notice)]

    def asked(self, action: str) -> list[Asked]:
        """Give what the person was asked of one kind."""
        return [asked for asked in self.robot.done if asked.action == action]


@contextmanager
def step_bench(receiver_id: str, *arguments: str, coarse_turns: float = 0.0) -> Generator[StepBench]:
    """Put a practice receiver on a bench without delays."""
    with practice("--receiver", receiver_id, "--instant", *arguments) as bench:
        yield StepBench(shipped(receiver_id), bench, Robot(bench, coarse_turns))


def fast_bench(receiver_id: str, seed: int) -> StepBench:
    """Put a practice receiver on a bench in this process, in a time of its own: for whoever turns live."""
    bench = InProcess(receiver_id, seed)
    return StepBench(bench.receiver, bench, Robot(bench), bench.clock, bench.sink)


@contextmanager
def slow_bench(receiver_id: str, *arguments: str) -> Generator[StepBench]:
    """Put a practice receiver on a bench whose detector, AGC and instruments take their time, none of it waited for."""
    with practice("--receiver", receiver_id, "--stepped-time", *arguments) as bench:
        yield StepBench(shipped(receiver_id), bench, Robot(bench), BenchClock(bench))


def with_source_level(task: Task, point: str, level_dbm: float) -> Task:
    """Give the same task with another source level to begin with in the receiver file."""
    receiver = task.receiver
    entry = receiver.source_points[point].model_copy(update={"level_dbm": level_dbm})
    points = {**receiver.source_points, point: entry}
    return replace(task, receiver=receiver.model_copy(update={"source_points": points}))
