"""The dial over real sockets, on both practice receivers, with the robot for a person."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.events import Asked
from sequences.kinds.dial.procedure import dial
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import WayName
from tests.bench.robot import Robot
from tests.bench.steps import FINGERS_TURNS, StepBench

CRYSTAL_KHZ = 7900.0
LIMIT_KHZ = {"skerry-7": 1.0, "millrace-5": 10.0}
STEP = {"skerry-7": "dial-second", "millrace-5": "dial-first"}
ONLY_THE_POINTER = 3
"""A Skerry 7 whose worst error of 7 kHz is a slipped pointer's."""

WITHIN_LIMITS = 7
TURNED_AT_BOTH_ENDS = 4


def in_way(name: WayName) -> Callable[[Task], Task]:
    """Take another way than the first."""
    return lambda task: replace(task, way=next(one for one in task.step.ways if one.name is name))


def errors(outcome: StepOutcome, name: str = "dial error") -> dict[float, tuple[float, float]]:
    """Give each error and its sigma in kHz, by mark."""
    found = {}
    for one in outcome.findings:
        if one.name == name and one.when is None:
            assert one.figure is not None, one.reason
            found[float(one.where.removesuffix(" kHz"))] = (one.figure.value, one.figure.sigma)
    return found


def zero_beat_truth(bench: StepBench) -> dict[float, float]:
    """The simulator's own errors, less its crystal's: the source enters behind the crystal's mixer."""
    truth = bench.truth()
    crystal_khz = truth["oscillators"]["crystal oscillator"] / 1e3 - CRYSTAL_KHZ
    return {float(mark): error - crystal_khz for mark, error in truth["dial"]["errors_by_zero_beat_khz"].items()}


def passband_truth(bench: StepBench) -> dict[float, float]:
    """The middle of all that stands behind the second mixer, cans and filter, at each mark."""
    found = {}
    for mark in (0.0, 100.0, 200.0, 300.0, 400.0, 500.0):
        bench.bench.do(do="set", control="dial", to=mark)
        nominal_hz = 3.4e6 - mark * 1e3
        bench.bench.ask(bench.bench.source, f":POW -60;:FREQ {nominal_hz};:OUTP ON;*OPC?")
        found[mark] = (nominal_hz - bench.truth()["scan"]["centre_hz"]) / 1e3
    bench.bench.ask(bench.bench.source, ":OUTP OFF;*OPC?")
    return found


def millrace_truth(bench: StepBench) -> dict[float, float]:
    """The simulator's own errors, by the middle of its IF."""
    return {float(mark): error for mark, error in bench.truth()["dial"]["errors_by_passband_khz"].items()}


def agree(found: dict[float, tuple[float, float]], truth: dict[float, float]) -> bool:
    """Say whether every mark is within 4 sigma."""
    return set(found) == set(truth) and all(
        abs(error - truth[mark]) <= 4 * sigma for mark, (error, sigma) in found.items()
    )


@pytest.mark.parametrize("seed", [1, 2, 4])
def test_by_zero_beat_the_errors_are_the_simulator_s_own(skerry: StepBench, seed: int) -> None:
    skerry.put_unit(seed)
    truth = zero_beat_truth(skerry)

    outcome = skerry.run(dial, STEP["skerry-7"], Phase.AS_FOUND)

    assert agree(errors(outcome), truth)
    assert max(sigma for _, sigma in errors(outcome).values()) < 0.01
    assert not skerry.asked("turn")


@pytest.mark.parametrize("seed", [5, 6, 7])
def test_by_the_passband_they_are_too_though_the_cans_before_it_are_off(skerry: StepBench, seed: int) -> None:
    skerry.put_unit(seed)

    outcome = skerry.run(dial, STEP["skerry-7"], Phase.AS_FOUND, in_way(WayName.PASSBAND_CENTRE))

    assert agree(errors(outcome), passband_truth(skerry))
    assert max(sigma for _, sigma in errors(outcome).values()) < 0.1


def test_a_slipped_pointer_is_slid_and_nothing_else_turned(skerry: StepBench) -> None:
    skerry.put_unit(ONLY_THE_POINTER)

    outcome = skerry.run(dial, STEP["skerry-7"], Phase.ADJUST)

    assert [asked.subject for asked in skerry.asked("turn")] == ["dial pointer"]
    assert max(abs(error) for error in zero_beat_truth(skerry).values()) < LIMIT_KHZ["skerry-7"]
    assert outcome.verdict is Verdict.LEAVE


def test_a_dial_within_limits_is_left_alone(skerry: StepBench) -> None:
    skerry.put_unit(WITHIN_LIMITS)

    outcome = skerry.run(dial, STEP["skerry-7"], Phase.ADJUST)

    assert not skerry.asked("turn")
    assert outcome.verdict is Verdict.LEAVE


@pytest.mark.parametrize("way", [WayName.ZERO_BEAT, WayName.PASSBAND_CENTRE])
@pytest.mark.parametrize("seed", [1, TURNED_AT_BOTH_ENDS])
def test_both_ends_are_brought_home_and_every_mark_with_them(skerry: StepBench, way: WayName, seed: int) -> None:
    skerry.put_unit(seed)
    found = max(abs(error) for error in zero_beat_truth(skerry).values())

    outcome = skerry.run(dial, STEP["skerry-7"], Phase.ADJUST, in_way(way))

    truth = zero_beat_truth(skerry) if way is WayName.ZERO_BEAT else passband_truth(skerry)
    assert found > LIMIT_KHZ["skerry-7"]
    assert max(abs(error) for error in truth.values()) < LIMIT_KHZ["skerry-7"]
    assert agree(errors(outcome), truth)
    assert outcome.verdict is Verdict.LEAVE
    assert {"tunable oscillator trimmer", "tunable oscillator slug"} <= {
        asked.subject for asked in skerry.asked("turn")
    }
    assert len(skerry.asked("turn")) <= 12


@pytest.mark.parametrize("seed", [1, 2, 4])
def test_behind_gain_control_the_errors_are_the_simulator_s_own_too(millrace: StepBench, seed: int) -> None:
    """Its AGC cannot be switched off, and nothing beats."""
    millrace.put_unit(seed)
    truth = millrace_truth(millrace)

    outcome = millrace.run(dial, STEP["millrace-5"], Phase.AS_FOUND)

    assert agree(errors(outcome), truth)
    assert max(sigma for _, sigma in errors(outcome).values()) < 0.3


@pytest.mark.parametrize("seed", [5, 11])
def test_padder_and_trimmer_are_turned_until_both_ends_hold(millrace: StepBench, seed: int) -> None:
    """From 33 and 49 kHz off; low end by the padder, high end by the trimmer, and again."""
    millrace.put_unit(seed)

    outcome = millrace.run(dial, STEP["millrace-5"], Phase.ADJUST)

    assert {"oscillator padder", "oscillator trimmer"} <= {asked.subject for asked in millrace.asked("turn")}
    assert max(abs(error) for error in millrace_truth(millrace).values()) < 0.5 * LIMIT_KHZ["millrace-5"]
    assert agree(errors(outcome), millrace_truth(millrace))
    assert outcome.verdict is Verdict.LEAVE


class ShortSightedRobot(Robot):
    """Reads the dial a little wrong each time it sets it."""

    def answer(self, asked: Asked) -> str:
        """Set the dial a little beside."""
        if asked.action == "set" and asked.subject == "dial":
            beside = float(np.random.default_rng(len(self.done)).normal(0, 0.15))
            to = min(max(float(asked.detail["to"]) + beside, 0.0), 500.0)
            asked = replace(asked, detail={"to": to})
        return super().answer(asked)


def test_a_dial_read_a_little_wrong_still_comes_within_its_limit(skerry: StepBench) -> None:
    """By the truth: the person's 0.15 kHz is no excuse for a mark beyond 1 kHz."""
    skerry.put_unit(TURNED_AT_BOTH_ENDS)
    steady, skerry.robot = skerry.robot, ShortSightedRobot(skerry.bench, FINGERS_TURNS)
    try:
        skerry.run(dial, STEP["skerry-7"], Phase.ADJUST)
    finally:
        skerry.robot = steady

    assert max(abs(error) for error in zero_beat_truth(skerry).values()) < LIMIT_KHZ["skerry-7"] + 0.3


def test_the_robot_is_asked_nothing_that_is_not_on_the_receiver(skerry: StepBench) -> None:
    """Every control, adjuster and point it was asked for is one of the receiver's own."""
    skerry.put_unit(TURNED_AT_BOTH_ENDS)
    skerry.run(dial, STEP["skerry-7"], Phase.ADJUST)
    receiver = skerry.bench.do(do="describe")["receiver"]
    known = {
        "set": {one["name"] for one in receiver["controls"]},
        "turn": {one["name"] for one in receiver["adjusters"]},
    }

    for action, names in known.items():
        assert {asked.subject for asked in skerry.asked(action)} <= names
    assert len(skerry.asked("connect")) == 1
