"""The proof of a receiver: how often each figure's 95 % interval covers what the unit's own physics come to.

Practice receivers of both kinds as someone left them, seeds from 1 on, in a time of their own; each step of the proof
that the plan has. Figures that are bounds count as covering where the truth lies beyond them. After that, weaknesses
built in (`--weak`): which steps suspect a part, and whether the first part they name is the one.
"""

import argparse
import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.kinds import procedure_for
from sequences.kinds.selectivity.layout import width_choices
from sequences.numerics.figures import NORMAL_95
from sequences.plan.content import Spot
from sequences.procedures.antenna import where_of
from sequences.receiver.chain import dial_setting
from sequences.receiver.frequency_plan import Stage, tuning
from tests.bench.in_process import InProcess
from tests.bench.robot import Robot
from tests.bench.true_proof import TrueUnit, unit
from tests.bench.weaknesses import WEAKNESSES, WELL_ALIGNED, named_culprit

RECEIVERS = ("skerry-7", "millrace-5")
PROOF = (
    "sensitivity",
    "image-rejection",
    "if-rejection",
    "half-if-rejection",
    "selectivity",
    "gain-control",
    "signal-meter",
)
METER_S = 0.1


@dataclass
class Tally:
    """How figures of one quantity came out."""

    misses: list[float] = field(default_factory=list)
    bounds: list[bool] = field(default_factory=list)
    missing: int = 0

    def line(self) -> str:
        """Say it."""
        told = [abs(each) <= NORMAL_95 for each in self.misses]
        parts = []
        if told:
            rms = math.sqrt(sum(each**2 for each in self.misses) / len(told))
            parts.append(f"cover {sum(told) / len(told):6.1%} of {len(told):3d}, rms {rms:.2f} sigma")
            parts.append(f"worst {max(map(abs, self.misses)):.1f}")
        if self.bounds:
            parts.append(f"bounds true {sum(self.bounds)} of {len(self.bounds)}")
        return ", ".join([*parts, f"without a figure {self.missing}"])


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--receivers", type=int, default=2, help="seeds of each of the two receivers")
    parser.add_argument("--steps", nargs="*", default=PROOF, help="of the proof")
    parser.add_argument("--weak", type=int, default=1, help="seeds of each receiver with each weakness; 0 for none")
    asked = parser.parse_args()
    _cover(asked.receivers, asked.steps)
    for weakness in WEAKNESSES if asked.weak else ():
        _weaken(weakness, asked.weak, asked.steps)


def _cover(receivers: int, steps: Sequence[str]) -> None:
    """Hold every figure against the truth of its unit."""
    tallies: defaultdict[tuple[str, str], Tally] = defaultdict(Tally)
    took_s: defaultdict[str, list[float]] = defaultdict(list)
    for receiver_id in RECEIVERS:
        for seed in range(1, receivers + 1):
            bench_s = 0.0
            for step_id in steps:
                bench = InProcess(receiver_id, seed, METER_S)
                if step_id not in {step.id for step in bench.plan().steps}:
                    continue
                task = bench.task(step_id, Phase.AS_FOUND)
                outcome = bench.run(procedure_for(task), Robot(bench), step_id)
                bench_s += bench.clock.now()
                _enter(tallies, receiver_id, seed, task, outcome)
            took_s[receiver_id].append(bench_s)
    for (receiver_id, key), tally in tallies.items():
        _say(f"{receiver_id:11} {key:20} {tally.line()}")
    for receiver_id, times in took_s.items():
        _say(f"{receiver_id:11} bench time of these steps {sum(times) / len(times) / 60.0:.1f} min on average")


def _weaken(weakness: str, receivers: int, steps: Sequence[str]) -> None:
    """Count how often well-aligned units with a weakness are told where to look first, and told rightly."""
    weaken, culprit = WEAKNESSES[weakness]
    named: Counter[str] = Counter()
    for receiver_id in RECEIVERS:
        for seed in range(1, receivers + 1):
            found = named_culprit(InProcess(receiver_id, seed, METER_S, WELL_ALIGNED, weaken), steps)
            named["rightly" if found is culprit else f"wrongly, {found}"] += 1
    _say(f"weakness {weakness:20} named {dict(named)}")


def _say(line: str) -> None:
    print(line, flush=True)  # noqa: T201 - a benchmark prints


def _enter(
    tallies: defaultdict[tuple[str, str], Tally], receiver_id: str, seed: int, task: Task, outcome: StepOutcome
) -> None:
    for finding in outcome.findings:
        key = finding.quantity.key
        tally = tallies[receiver_id, key.removesuffix("-bound")]
        if finding.figure is None:
            tally.missing += 1
            continue
        truth = _truth(receiver_id, seed, task, finding)
        if truth is None:
            continue
        if key.endswith("-bound"):
            tally.bounds.append(truth >= finding.figure.value - NORMAL_95 * finding.figure.sigma)
        elif finding.figure.sigma > 0.0:
            tally.misses.append((finding.figure.value - truth) / finding.figure.sigma)


def _spots(task: Task, finding: Finding) -> Iterator[Spot]:
    """Find the spots that a figure may be of: by its place, or the only one."""
    spots = task.step.spots
    yield from (spot for spot in spots if where_of(task, spot) in finding.where)
    if len(spots) == 1:
        yield spots[0]


def _first_mixer(task: Task, spot: Spot) -> Stage:
    at = dial_setting(task.receiver, spot.band or "", spot.dial_khz or 0.0)
    return tuning(task.receiver, at).stages[0]


def _truth(receiver_id: str, seed: int, task: Task, finding: Finding) -> float | None:
    """Give the truth of a figure; None where there is none to compare with."""
    spot = next(_spots(task, finding), None)
    if spot is None:
        return None
    key = finding.quantity.key.removesuffix("-bound")
    last = finding.where.rpartition(", ")[2]
    if key.startswith(("selectivity-", "shape-")):
        return _width(TrueUnit.of(unit(receiver_id, seed), task, spot, _width_at(task, last)), key)
    if key in {"agc-merit", "agc-rise", "agc-release", "s-mark-level", "s9-error"}:
        return _of_the_loop(receiver_id, seed, task, spot, finding)
    true = TrueUnit.of(unit(receiver_id, seed), task, spot)
    first = _first_mixer(task, spot)
    truths: dict[str, Callable[[], float]] = {
        "sensitivity": true.sensitivity_dbm,
        "image-rejection": lambda: true.rejection_db(1e3 * first.image_khz),
        "if-rejection": lambda: true.rejection_db(1e3 * first.gives_khz),
        "half-if-rejection": lambda: true.half_if_db(500.0 * first.gives_khz),
    }
    return truths[key]() if key in truths else None


def _width_at(task: Task, choice: str) -> dict[str, str | float]:
    control, choices = width_choices(task.receiver)
    return {control: choice} if control is not None and choice in choices else {}


def _width(true: TrueUnit, key: str) -> float | None:
    found = true.response()
    if found.width_6db_hz is None or found.width_60db_hz is None:
        return None
    widths = {"selectivity-6db": found.width_6db_hz, "selectivity-60db": found.width_60db_hz}
    return widths.get(key, found.width_60db_hz / found.width_6db_hz if key == "shape-factor" else None)


def _of_the_loop(receiver_id: str, seed: int, task: Task, spot: Spot, finding: Finding) -> float | None:
    key, last = finding.quantity.key, finding.where.rpartition(", ")[2]
    on = {"agc": last if last in {"fast", "slow"} else "fast"} if "agc" in task.receiver.controls else {}
    true = TrueUnit.of(unit(receiver_id, seed, at_rest=key != "agc-release"), task, spot, on)
    if key == "agc-merit":
        return true.merit_db()
    if key == "agc-rise":
        return true.rise_db()
    if key == "agc-release":
        return true.release_s()
    marks_v = task.receiver.meter_points["agc line"].s_marks_v
    level_dbm = true.mark_dbm(marks_v["S9" if key == "s9-error" else finding.where])
    return level_dbm + 73.0 if key == "s9-error" else level_dbm
