"""Adjusting live: hands like a person's turn by the guidance alone, on the simulators' physics and over sockets.

What it comes to is held against the simulator's own truth, and measured once more as left.
"""

from collections.abc import Callable, Generator
from contextlib import contextmanager
from dataclasses import replace

import numpy as np
import pytest

from sequences.alignment.outcome import Phase, Task, Turned, Turning
from sequences.engine.events import GaugeKind, Guidance
from sequences.kinds.crystal_activity.procedure import crystal_activity
from sequences.kinds.dial.procedure import dial
from sequences.kinds.fixed_oscillator import fixed_oscillator
from sequences.kinds.if_can.procedure import if_can
from sequences.kinds.single_peak import single_peak
from sequences.numerics.adjusters.coach import Word
from sequences.numerics.verdicts.verdict import Standing, Verdict
from sequences.plan.content import WayName
from sequences.procedures.adjusting.circuit_findings import GAINED, LEFT
from tests.bench.live_robot import LiveRobot
from tests.bench.steps import StepBench, fast_bench, slow_bench
from tests.human_hands import CLUMSY, COARSE, FINE, SLOW, HandKind

SKERRY, MILLRACE = "skerry-7", "millrace-5"


@contextmanager
def handed(
    receiver_id: str, seed: int, *, kind: HandKind = FINE, misread: bool = False
) -> Generator[tuple[StepBench, LiveRobot]]:
    """Put a unit on the bench, with a robot that watches what is shown."""
    on = fast_bench(receiver_id, seed)
    yield on, watching(on, kind=kind, misread=misread)


def watching(on: StepBench, *, kind: HandKind = FINE, misread: bool = False) -> LiveRobot:
    """Give a bench a robot that watches what is shown."""
    robot = LiveRobot(on.bench, kind=kind, misread=misread, clock=on.clock)
    on.robot = robot
    on.sink.onward = robot.see
    return robot


def live(task: Task) -> Task:
    """Give the task to be done live."""
    return replace(task, turning=Turning.LIVE)


def live_by(way: WayName, clockwise: str | None = None) -> Callable[[Task], Task]:
    """Give a change to a task: live, in one of its ways; and what its file says of clockwise, right or wrong."""

    def change(task: Task) -> Task:
        chosen = next(one for one in task.step.ways if one.name is way)
        adjusters = tuple(replace(one, clockwise=clockwise) if clockwise else one for one in task.step.adjusters)
        return replace(live(task), way=chosen, step=replace(task.step, adjusters=adjusters))

    return change


def guided(on: StepBench, *kinds: GaugeKind) -> list[Guidance]:
    """Give what was shown of some gauges."""
    return [event for event in on.sink.events if isinstance(event, Guidance) and event.gauge in kinds]


OSCILLATORS = {
    "beat-oscillator": ("beat oscillator", 85e3, 20.0),
    "oscillator-third": ("third oscillator", 435e3, 30.0),
}


def off_hz(on: StepBench, step_id: str) -> float:
    """How far an oscillator is from its nominal, by the simulator."""
    name, nominal_hz, _ = OSCILLATORS[step_id]
    return float(on.truth()["oscillators"][name]) - nominal_hz


@pytest.mark.parametrize("way", [WayName.COUNT, WayName.OFFSET_BEAT])
@pytest.mark.parametrize(
    ("step_id", "seed"), [("beat-oscillator", 1), ("beat-oscillator", 11), ("oscillator-third", 2)]
)
def test_a_fixed_oscillator_comes_onto_its_frequency(step_id: str, seed: int, way: WayName) -> None:
    with handed(SKERRY, seed) as (on, robot):
        # The beat oscillator's own error is in the third's figure, so it stands right first.
        if step_id == "oscillator-third":
            on.run(fixed_oscillator, "beat-oscillator", Phase.ADJUST, live_by(way))
        outcome = on.run(fixed_oscillator, step_id, Phase.ADJUST, live_by(way))
        as_left = on.run(fixed_oscillator, step_id, Phase.AS_LEFT, live_by(way))

        assert abs(off_hz(on, step_id)) < OSCILLATORS[step_id][2] / 2
        assert as_left.verdict is Verdict.LEAVE
        assert {turned.turns for turned in outcome.turned} == {None}
        assert robot.words[-1] is Word.DONE
        assert len(on.asked("turn")) == 0
        kind = GaugeKind.FREQUENCY if way is WayName.COUNT else GaugeKind.BEAT
        assert guided(on, kind)


@pytest.mark.parametrize("clockwise", ["raises", "unknown"])
def test_a_file_that_is_wrong_or_silent_about_the_way_does_not_mislead_for_long(clockwise: str) -> None:
    """The slug lowers its oscillator clockwise, and that one is high."""
    with handed(SKERRY, 11) as (on, robot):
        on.run(fixed_oscillator, "beat-oscillator", Phase.ADJUST, live_by(WayName.COUNT, clockwise))

        assert abs(off_hz(on, "beat-oscillator")) < 10.0
        assert clockwise == "unknown" or Word.TURN_BACK in robot.words
        assert guided(on, GaugeKind.FREQUENCY)[-1].way is None


def test_hands_that_take_clockwise_for_the_other_way_are_turned_back() -> None:
    with handed(SKERRY, 1, misread=True) as (on, robot):
        on.run(fixed_oscillator, "beat-oscillator", Phase.ADJUST, live_by(WayName.COUNT))

        assert abs(off_hz(on, "beat-oscillator")) < 10.0
        assert Word.TURN_BACK in robot.words


@pytest.mark.parametrize(("seed", "kind"), [(1, FINE), (2, COARSE), (3, SLOW), (4, CLUMSY), (11, FINE)])
def test_a_trimmer_is_peaked_with_the_best_held(seed: int, kind: HandKind) -> None:
    """Plain peaking leaves what its own zone and the meter's noise hide: the step allows 0.5 dB."""
    with handed(SKERRY, seed, kind=kind) as (on, robot):
        outcome = on.run(single_peak, "filter-tunable-if-circuit", Phase.ADJUST, live)

        assert lost_db(on) < 0.5
        assert outcome.turned == (Turned("tunable IF trimmer", None),)
        left = next(finding for finding in outcome.findings if finding.name == LEFT.name)
        assert left.judged is not None
        assert left.judged.standing is not Standing.BEYOND
        assert any(finding.name == GAINED.name for finding in outcome.findings)
        assert {Word.TURN, Word.DONE} <= set(robot.words)
        assert set(robot.words) & {Word.PAST_IT, Word.TURN_BACK}


def lost_db(on: StepBench) -> float:
    """What the tunable IF's circuit loses where the source stands, by the simulator's peak and width of it.

    A single circuit x half-widths off its peak loses 10 log10(1 + x^2) dB (Terman, Radio Engineers' Handbook, 1943,
    section 3, universal resonance curve; from memory).
    """
    circuit = on.truth()["circuits"]["tunable IF"]
    at_hz = float(on.bench.ask(on.bench.source, "FREQ?"))
    x = 2.0 * (at_hz - circuit["peak_hz"]) / circuit["width_3db_hz"]
    return float(10.0 * np.log10(1.0 + x**2))


def test_a_trimmer_is_peaked_through_a_detector_and_agc_that_take_their_time() -> None:
    with slow_bench(SKERRY, "--seed", "3") as on:
        watching(on)
        on.run(single_peak, "filter-tunable-if-circuit", Phase.ADJUST, live)

        assert lost_db(on) < 0.5


@pytest.mark.parametrize(("can", "seed"), [("can 1", 5), ("can 1", 21), ("can 2", 5)])
def test_a_can_comes_home_by_its_edges(can: str, seed: int) -> None:
    with handed(MILLRACE, seed, kind=COARSE) as (on, _):
        outcome = on.run(if_can, f"filter-{can.replace(' ', '-')}", Phase.ADJUST, live)

        truth = on.truth()["circuits"][can]
        assert abs(truth["centre_hz"] - 455e3) < 0.03 * truth["width_3db_hz"]
        assert all(
            finding.judged is None or finding.judged.standing is not Standing.BEYOND for finding in outcome.findings
        )


def test_a_can_that_is_only_off_centre_is_not_stepped_but_turned_by_its_edges() -> None:
    with handed(MILLRACE, 5, kind=COARSE) as (on, _):
        on.run(if_can, "filter-can-1", Phase.ADJUST, live)

        visits = [asked.subject for asked in on.asked("adjust")]
        assert visits == ["can 1 primary", "can 1 secondary", "can 1 primary"]
        assert not on.asked("turn")
        targets = list(dict.fromkeys(each.target for each in guided(on, GaugeKind.EDGE_BALANCE)))
        # 5.1 kHz high: a quarter of it by the first, half by the second, the last quarter by the first again.
        assert targets == [pytest.approx(3810.0, abs=150.0), pytest.approx(1270.0, abs=100.0), 0.0]


def test_a_can_comes_home_through_agc_that_takes_its_time() -> None:
    with slow_bench(MILLRACE, "--seed", "5") as on:
        watching(on)
        on.run(if_can, "filter-can-1", Phase.ADJUST, live)

        truth = on.truth()["circuits"]["can 1"]
        assert abs(truth["centre_hz"] - 455e3) < 0.04 * truth["width_3db_hz"]


def test_step_and_fit_shows_itself_on_the_same_display() -> None:
    """Each counted turn is shown before it is asked for, with the same way and amount."""
    with handed(SKERRY, 2) as (on, _):
        on.run(if_can, "filter-t2", Phase.ADJUST, live)

        shown = guided(on, GaugeKind.STEP_AND_FIT)
        asked = on.asked("turn")
        assert len(shown) == len(asked)
        for each, question in zip(shown, asked, strict=True):
            assert each.adjuster == question.subject
            assert each.turns_left == pytest.approx(abs(question.detail["turns"]))
            assert (each.way == "clockwise") == (question.detail["turns"] > 0)


@pytest.mark.parametrize(("slug", "turns"), [("25.5", 1.5), ("16", 2.0), ("19", 2.5)])
def test_a_crystal_that_stopped_is_found_again_and_peaked(slug: str, turns: float) -> None:
    """Where it stops there is nothing to watch: it is searched by counted turns, ever wider to both sides."""
    with handed(SKERRY, 11) as (on, _):
        name = f"crystal slug {slug}"
        on.bench.do(do="turn", adjuster=name, turns=turns)
        outcome = on.run(crystal_activity, "activity-first", Phase.ADJUST, live)

        assert name in {each.adjuster for each in outcome.turned}
        volts = {(one.where, one.when): one.figure.value for one in outcome.findings if one.unit == "V" and one.figure}
        assert abs(volts[slug, Phase.AS_FOUND]) < 0.1
        assert volts[slug, None] < -7.3, "the strongest any crystal of this receiver reads is 7.5 V"
        assert outcome.verdict is Verdict.LEAVE


@pytest.mark.parametrize(("receiver_id", "seed"), [(SKERRY, 1), (SKERRY, 2), (MILLRACE, 5), (MILLRACE, 11)])
def test_a_dial_comes_onto_its_marks(receiver_id: str, seed: int) -> None:
    with handed(receiver_id, seed, kind=COARSE) as (on, _):
        step_id = "dial-second" if receiver_id == SKERRY else "dial-first"
        outcome = on.run(dial, step_id, Phase.ADJUST, live)

        assert outcome.verdict is Verdict.LEAVE
        assert worst_error_khz(on, receiver_id) < (1.0 if receiver_id == SKERRY else 10.0)
        assert any(turned.turns is None for turned in outcome.turned)


def worst_error_khz(on: StepBench, receiver_id: str) -> float:
    """The worst dial error by the simulator, found as the step finds it."""
    by = "errors_by_zero_beat_khz" if receiver_id == SKERRY else "errors_by_passband_khz"
    errors: dict[str, float] = on.truth()["dial"][by]
    return max(abs(error) for error in errors.values())
