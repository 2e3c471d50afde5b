"""The fixed oscillators over real sockets: beat and third oscillator of the Skerry 7, each way, robot for a person."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.engine.events import Asked
from sequences.kinds.fixed_oscillator import fixed_oscillator
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import WayName
from tests.bench.robot import Robot
from tests.bench.steps import StepBench, step_bench

FINGERS_TURNS = 1 / 32
FINEST_TURNS = 0.005
MOST_QUESTIONS = {Phase.AS_FOUND: 16, Phase.ADJUST: 15, Phase.AS_LEFT: 9}
"""By ear; a mixer's oscillator takes zero beat behind the mixer as well."""

SEIZED_BEAT_OSCILLATOR = 19
STEPS = {"beat-oscillator": ("beat oscillator", 85e3, 20.0), "oscillator-third": ("third oscillator", 435e3, 30.0)}


@pytest.fixture(scope="module")
def skerry() -> Iterator[StepBench]:
    """A Skerry 7; each test puts its own unit on the bench."""
    with step_bench("skerry-7", coarse_turns=FINGERS_TURNS) as bench:
        yield bench


def in_way(name: WayName) -> Callable[[Task], Task]:
    """Take another way than the first."""
    return lambda task: replace(task, way=next(one for one in task.step.ways if one.name is name))


def true_error_hz(bench: StepBench, step_id: str) -> float:
    """By the simulator's own truth."""
    oscillator, nominal_hz, _ = STEPS[step_id]
    return float(bench.truth()["oscillators"][oscillator]) - nominal_hz


def error(outcome: StepOutcome) -> Finding:
    """Give the figure that was judged."""
    return next(one for one in outcome.findings if (one.name, one.when) == ("frequency error", None))


@pytest.mark.parametrize("seed", [2, 5, 11])
@pytest.mark.parametrize("step_id", STEPS)
@pytest.mark.parametrize("way", [WayName.COUNT, WayName.OFFSET_BEAT])
def test_the_error_as_found_is_the_simulator_s_own(skerry: StepBench, seed: int, step_id: str, way: WayName) -> None:
    """Within 4 sigma, and nothing is turned."""
    skerry.bench.do(do="reseed", seed=seed)
    skerry.robot.done.clear()
    truth_hz = true_error_hz(skerry, step_id)

    outcome = skerry.run(fixed_oscillator, step_id, Phase.AS_FOUND, in_way(way))

    figure = error(outcome).figure
    assert figure is not None
    assert abs(figure.value - truth_hz) <= 4 * figure.sigma
    assert figure.sigma < 5.0
    assert not skerry.asked("turn")


@pytest.mark.parametrize("seed", [2, 5])
@pytest.mark.parametrize("way", [WayName.COUNT, WayName.OFFSET_BEAT])
def test_both_oscillators_are_turned_within_their_limits(skerry: StepBench, seed: int, way: WayName) -> None:
    """By the truth; with fingers that turn by no less than 1/32 of a turn."""
    skerry.bench.do(do="reseed", seed=seed)
    for step_id, (_, _, limit_hz) in STEPS.items():
        found_hz = true_error_hz(skerry, step_id)

        outcome = skerry.run(fixed_oscillator, step_id, Phase.ADJUST, in_way(way))

        left_hz = true_error_hz(skerry, step_id)
        figure = error(outcome).figure
        assert figure is not None
        assert abs(left_hz) <= limit_hz
        assert abs(figure.value - left_hz) <= 4 * figure.sigma
        assert outcome.verdict is Verdict.LEAVE
        assert bool(outcome.turned) == (abs(found_hz) > limit_hz)


def test_two_injection_points_agree_once_the_third_oscillator_is_right(skerry: StepBench) -> None:
    """Through the mixer and behind it, though the beat oscillator is still off: what both share drops out."""
    skerry.bench.do(do="reseed", seed=3)

    found = skerry.run(fixed_oscillator, "oscillator-third", Phase.AS_FOUND, in_way(WayName.OFFSET_BEAT))
    left = skerry.run(fixed_oscillator, "oscillator-third", Phase.ADJUST, in_way(WayName.OFFSET_BEAT))

    assert abs(true_error_hz(skerry, "beat-oscillator")) > 100.0
    assert "disagree" in found.advice[0]
    assert "halves the error" in found.advice[0]
    assert "agree to" in left.advice[-1]


def test_the_balance_told_halves_what_two_injection_points_disagree_by(skerry: StepBench) -> None:
    """By the truth: behind the mixer zero beat is off by the beat oscillator, through it by the third as well."""
    skerry.bench.do(do="reseed", seed=3)
    behind_hz, third_hz = true_error_hz(skerry, "beat-oscillator"), true_error_hz(skerry, "oscillator-third")

    found = skerry.run(fixed_oscillator, "oscillator-third", Phase.AS_FOUND, in_way(WayName.OFFSET_BEAT))

    told = re.search(r"oscillator ([\d.]+) Hz (higher|lower) halves the error, to ([\d.]+) Hz", " ".join(found.advice))
    assert told is not None
    balance_hz = float(told[1]) if told[2] == "higher" else -float(told[1])
    left_hz = (behind_hz + balance_hz, behind_hz + third_hz + balance_hz)
    assert sum(left_hz) == pytest.approx(0.0, abs=6.0)
    assert [abs(each) for each in left_hz] == pytest.approx([float(told[3])] * 2, abs=3.0)
    assert float(told[3]) == pytest.approx(abs(third_hz) / 2, abs=3.0)


def test_a_seized_slug_ends_in_a_suspected_part(skerry: StepBench) -> None:
    """The simulator's fault; the robot could not turn it, either way."""
    skerry.bench.do(do="reseed", seed=SEIZED_BEAT_OSCILLATOR)
    assert "seized, beat oscillator slug" in skerry.truth()["faults"]

    outcome = skerry.run(fixed_oscillator, "beat-oscillator", Phase.ADJUST)

    judged = error(outcome).judged
    assert judged is not None
    assert judged.verdict is Verdict.SUSPECT
    assert "cannot be turned" in judged.text
    assert outcome.turned == ()


@dataclass
class Listener(Robot):
    """A robot with an ear: no note below 35 Hz is heard. It has only what is in the headphones to go by."""

    ear_fails_below_hz: float = 35.0
    oscillators: dict[str, float] = field(default_factory=dict)

    def note_hz(self, source_hz: float) -> float:
        """The beat of what arrives with the beat oscillator."""
        self.oscillators = self.oscillators or self.bench.do(do="truth")["truth"]["oscillators"]
        arrives_hz = source_hz if source_hz < 200e3 else source_hz - self.oscillators["third oscillator"]
        return abs(arrives_hz - self.oscillators["beat oscillator"])

    def _turn(self, asked: Asked) -> str:
        self.oscillators = {}
        return super()._turn(asked)

    def _choose(self, asked: Asked) -> str:
        now_hz = float(self.bench.ask(self.bench.source, "FREQ?"))
        note_hz = self.note_hz(now_hz)
        if note_hz < self.ear_fails_below_hz:
            return "silent"
        return "rose" if note_hz > self.note_hz(asked.detail["from_hz"]) else "fell"


def _knowing(change: Callable[[Task], Task], before: StepOutcome | None) -> Callable[[Task], Task]:
    return lambda task: replace(change(task), before=before)


@pytest.mark.parametrize("seed", [2, 3, 5])
@pytest.mark.parametrize("step_id", STEPS)
def test_by_ear_the_error_is_found_and_set_right_with_questions_a_person_bears(
    skerry: StepBench, step_id: str, seed: int
) -> None:
    """A few hertz, though a zone of 70 Hz is silent: whether the note rose, fell or is gone is all that is asked.

    Each run goes on with what the one before told.
    """
    skerry.bench.do(do="reseed", seed=seed)
    if step_id != "beat-oscillator":
        skerry.run(fixed_oscillator, "beat-oscillator", Phase.ADJUST)
    listening = StepBench(skerry.receiver, skerry.bench, Listener(skerry.bench, FINGERS_TURNS))
    truth_hz = true_error_hz(skerry, step_id)

    before: StepOutcome | None = None
    for phase, most in MOST_QUESTIONS.items():
        asked_before = len(listening.asked("choose"))
        by_ear = in_way(WayName.BY_EAR)
        before = listening.run(fixed_oscillator, step_id, phase, _knowing(by_ear, before))
        figure = error(before).figure
        true_hz = truth_hz if phase is Phase.AS_FOUND else true_error_hz(skerry, step_id)
        assert figure is not None
        assert abs(figure.value - true_hz) <= 4 * figure.sigma
        assert len(listening.asked("choose")) - asked_before <= most

    assert before is not None
    assert before.verdict is Verdict.LEAVE
    assert abs(true_error_hz(skerry, step_id)) <= STEPS[step_id][2]
    assert all(abs(one.detail["turns"]) > FINEST_TURNS for one in listening.asked("turn"))
    assert {one.answers for one in listening.asked("choose")} == {("rose", "fell", "silent", "again")}
