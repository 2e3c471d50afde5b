"""What a run found out is not asked for again by the next, unless something was moved meanwhile."""

from functools import partial

import pytest

from sequences.alignment.kept import KEPT_FOR_S, Kept
from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.alignment.standing import nothing_stands
from sequences.kinds import procedure_for
from tests.bench.steps import FINGERS_TURNS, StepBench, fast_bench
from tests.bench.whole_plan import RobotWithMemory

DIAL, TRIMMER = "dial-second", "tunable oscillator trimmer"


def bench_with_memory(receiver_id: str, seed: int) -> StepBench:
    """Put a receiver before a person who is asked nothing that stands, with what runs leave each other."""
    on = fast_bench(receiver_id, seed)
    standing, kept = nothing_stands(on.receiver), Kept(on.clock.now)
    on.robot = RobotWithMemory(on.bench, FINGERS_TURNS, standing=standing, kept=kept)
    return on


def run(on: StepBench, step_id: str, phase: Phase) -> tuple[StepOutcome, list[str]]:
    """Run a step; give what it came to and the kinds of what was asked."""
    assert isinstance(on.robot, RobotWithMemory)
    before, kept = len(on.robot.done), on.robot.kept

    def with_kept(task: Task) -> Task:
        return Task(task.receiver, task.step, task.way, task.phase, kept=kept)

    outcome = on.run(procedure_for, step_id, phase, with_kept)
    return outcome, [asked.action for asked in on.robot.done[before:]]


@pytest.mark.parametrize(("step_id", "seed"), [(DIAL, 2), ("activity-first", 9), ("beat-oscillator", 1)])
def test_as_left_is_asked_nothing_where_adjusting_measured_it_all(step_id: str, seed: int) -> None:
    on = bench_with_memory("skerry-7", seed)
    run(on, step_id, Phase.AS_FOUND)
    adjusted, _ = run(on, step_id, Phase.ADJUST)
    left, asked = run(on, step_id, Phase.AS_LEFT)

    assert adjusted.turned
    assert asked == []
    figures = [one.figure for one in left.findings]
    assert figures
    assert None not in figures


def test_what_was_moved_meanwhile_is_measured_anew() -> None:
    on = bench_with_memory("skerry-7", 2)
    found, first = run(on, DIAL, Phase.AS_FOUND)
    on.bench.do(do="turn", adjuster=TRIMMER, turns=0.5)
    again, asked = run(on, DIAL, Phase.AS_LEFT)

    assert asked.count("set") >= first.count("set")
    pairs = zip(found.findings, again.findings, strict=True)
    moved = [abs(now.figure.value - was.figure.value) for was, now in pairs if was.figure and now.figure]
    assert max(moved) > 0.25 * on.task(DIAL, Phase.AS_FOUND).step.limits[0].most


def test_what_is_old_counts_no_more_and_figures_are_taken_up_once() -> None:
    now_s = [0.0]
    kept = Kept(partial(now_s.__getitem__, 0))
    kept.keep_figures("a step", ("its", "figures"))
    kept.keep_of_hookup("a lead", 1.5)

    assert kept.take_figures("a step", tuple) == ("its", "figures")
    assert kept.take_figures("a step", tuple) is None
    assert kept.of_hookup("a lead", float) == 1.5
    now_s[0] = KEPT_FOR_S + 1.0
    assert kept.of_hookup("a lead", float) is None
