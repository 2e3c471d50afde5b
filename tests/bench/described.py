"""Receivers that only their files describe, aligned from end to end over sockets on benches made from the files."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sequences.alignment.progress import Progress
from sequences.receiver.file import load_receiver
from tests.bench.practice import practice
from tests.bench.robot import Robot
from tests.bench.steps import FINGERS_TURNS, StepBench
from tests.bench.whole_plan import walk_plan

FILES = Path(__file__).parents[1] / "sequences" / "user_files"
DESCRIBED = tuple(sorted(path.stem for path in FILES.glob("*.toml")))


@dataclass(frozen=True)
class Walked:
    """One alignment: how each step ended, the simulator's truth before and after, how many questions there were."""

    progress: Progress
    before: dict[str, Any]
    after: dict[str, Any]
    questions: int

    @property
    def endings(self) -> dict[str, str]:
        """Give how each step ended, by its id."""
        return {step: str(record.ending) for step, record in self.progress.latest.items()}


def walk_file(name: str, seed: int) -> Walked:
    """Make up a unit of a described receiver and do its whole plan, with the robot for a person."""
    path = FILES / f"{name}.toml"
    receiver = load_receiver(path)
    arguments = ("--receiver-file", str(path), "--receiver", receiver.id, "--instant", "--seed", str(seed))
    with practice(*arguments) as bench:
        on = StepBench(receiver, bench, Robot(bench, FINGERS_TURNS))
        before = on.truth()
        progress = walk_plan(on)
        return Walked(progress, before, on.truth(), len(on.robot.done))


def dial_error_khz(walked: Walked) -> float:
    """Give the worst error of the dial's marks on the band that was on last, by the truth."""
    errors = walked.after["dial"]["errors_by_nominal_if_khz"].values()
    return max((abs(error) for error in errors if error is not None), default=0.0)
