"""How many questions a whole alignment asks of a person, and how long they take: fault-free receivers, by step.

The receivers are aligned in this process, by the robot that turns counted turns to a fiftieth of a turn. A question
counts where it reaches the person: what stands already is not asked. `HUMAN_S` states how long each takes. The readings
are counted too, and those of them that learn the detector's law or look for a source level.
"""

import argparse
from collections import Counter
from collections.abc import Sequence
from statistics import median

from sequences.alignment.progress import Ending
from sequences.engine.events import Asked, ReadingTaken
from sequences.engine.questions import CHOOSE, CONNECT, SET, TURN
from tests.bench.steps import FINGERS_TURNS, fast_bench
from tests.bench.whole_plan import Forgetful, RobotWithMemory, walk_plan

RECEIVERS = ("skerry-7", "millrace-5")
LEARNING = frozenset({"calibration", "quiet", "level", "law"})


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--units", type=int, default=3, help="receivers of each kind")
    parser.add_argument("--steps", action="store_true", help="print the questions of each step too")
    parser.add_argument("--forgetful", action="store_true", help="as if runs left each other nothing")
    asked = parser.parse_args()
    heads = ("unit", "asked", "leads", "set", "turn", "else", "min", "readings", "learning", "off")
    _say(f"{'':14} " + "{:>5} {:>6}  {:>5} {:>5} {:>5} {:>5} {:>6} {:>9} {:>9} {:>4}".format(*heads))
    for receiver_id in RECEIVERS:
        seeds = fault_free(receiver_id, asked.units)
        totals = [count_questions(receiver_id, seed, asked) for seed in seeds]
        _say(f"{receiver_id:14} median of questions {median(totals):g}")


def fault_free(receiver_id: str, count: int) -> list[int]:
    """Give seeds of receivers without a faulty part, from 1 on."""
    found: list[int] = []
    seed = 0
    while len(found) < count:
        seed += 1
        if not fast_bench(receiver_id, seed).truth()["faults"]:
            found.append(seed)
    return found


def count_questions(receiver_id: str, seed: int, wanted: argparse.Namespace) -> int:
    """Align one receiver wholly, print how much was asked, and give how many questions that was."""
    on = fast_bench(receiver_id, seed)
    on.robot.coarse_turns = FINGERS_TURNS
    progress = walk_plan(on, kept=Forgetful() if wanted.forgetful else None)
    assert isinstance(on.robot, RobotWithMemory)
    off = sum(record.ending is not Ending.GOOD for record in progress.latest.values())
    readings = [event for event in on.sink.events if isinstance(event, ReadingTaken)]
    learning = sum(each.purpose in LEARNING for each in readings) / max(1, len(readings))
    minutes = (on.robot.human_s + on.clock.now()) / 60.0
    _say(
        f"{receiver_id:14} {seed:5d} {len(on.robot.done):6d}  {_by_kind(on.robot.done)} {minutes:6.1f} "
        f"{len(readings):9d} {learning:9.0%} {off:4d}"
    )
    for step_id, asked in on.robot.by_step().items() if wanted.steps else ():
        _say(f"    {step_id:38} {len(asked):4d}  {_by_kind(asked)}")
    return len(on.robot.done)


def _by_kind(asked: Sequence[Asked]) -> str:
    kinds = Counter(each.action for each in asked)
    return " ".join(f"{kinds[kind]:5d}" for kind in (CONNECT, SET, TURN, CHOOSE))


def _say(line: str) -> None:
    print(line, flush=True)  # noqa: T201 - a benchmark prints


if __name__ == "__main__":
    main()
