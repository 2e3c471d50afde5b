"""The preselector over real sockets: the Skerry 7's two circuits and the Millrace 5's antenna circuit."""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.events import Asked, CurveFitted
from sequences.kinds.preselector.procedure import preselector
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import WayName
from tests.bench.robot import Robot
from tests.bench.steps import FINGERS_TURNS, StepBench
from tests.trials import first_of

DRIFTED_16, DRIFTED_12 = 5, 18
"""Units whose preselector has a capacitor that has drifted by 3 %, on one band."""


ANTENNA_MARKS_KHZ = (600.0, 1000.0, 1400.0)
LEVEL_LIMIT_DB, CENTRE_LIMIT_PERCENT, DIAL_LIMIT_KHZ = 1.0, 20.0, 10.0


def on_bands(*bands: str, way: WayName = WayName.PROBE) -> Callable[[Task], Task]:
    """Look at some bands only, in one way."""

    def change(task: Task) -> Task:
        chosen = [number for number, spot in enumerate(task.step.spots) if spot.band in bands]
        spots = tuple(task.step.spots[number] for number in chosen)
        targets = tuple(task.step.targets[number] for number in chosen)
        step = replace(task.step, spots=spots, targets=targets)
        return replace(task, step=step, way=next(one for one in step.ways if one.name is way))

    return change


def figures(outcome: StepOutcome, where: str) -> dict[str, Estimate]:
    """Give the figures of a band or mark, as it is now."""
    return {
        one.name: one.figure
        for one in outcome.findings
        if one.figure is not None and one.when is None and one.where.partition(",")[0] == where
    }


def true_response(bench: StepBench, band: str, knob: float) -> dict[str, Any]:
    """The simulator's own, of both circuits together."""
    bench.bench.do(do="set", control="band", to=band)
    bench.bench.do(do="set", control="preselector", to=knob)
    response: dict[str, Any] = bench.truth()["circuits"]["preselector"]
    return response


def true_knob(bench: StepBench, band: str, wanted_hz: float) -> float:
    """Where the knob must stand for the centre to be there: by its slope, and once more from nearby."""
    knob = 5.0
    for aside in (1.0, 0.1):
        here_hz = true_response(bench, band, knob)["centre_hz"]
        slope_hz = (true_response(bench, band, knob - aside)["centre_hz"] - here_hz) / -aside
        knob += (wanted_hz - here_hz) / slope_hz
    return knob


@pytest.mark.parametrize("seed", first_of([1, 3], 1))
@pytest.mark.parametrize(("band", "hz"), [("4.5", 4.75e6), ("12", 12.25e6), ("25.5", 25.75e6)])
def test_by_probe_the_figures_are_the_simulator_s_own(skerry: StepBench, seed: int, band: str, hz: float) -> None:
    skerry.put_unit(seed)

    outcome = skerry.run(preselector, "preselector", Phase.AS_FOUND, on_bands(band))

    found = figures(outcome, f"band {band}")
    pointer = found["knob pointer error"]
    knob = true_knob(skerry, band, hz)
    truth = true_response(skerry, band, knob)
    assert abs(pointer.value - (knob - 5.0)) <= 4 * pointer.sigma + 0.02
    width = found["3 dB width"]
    assert abs(width.value * 1e3 - truth["width_3db_hz"]) <= 4 * width.sigma * 1e3 + 0.01 * truth["width_3db_hz"]
    q = found["loaded Q"]
    design = {"4.5": 80.0, "12": 72.0, "25.5": 50.0}[band]
    assert abs(q.value - design) <= 4 * q.sigma + 0.03 * design
    assert not skerry.asked("turn")


@pytest.mark.parametrize(("band", "hz"), [("4.5", 4.75e6), ("12", 12.25e6)])
def test_through_the_receiver_they_are_so_too(skerry: StepBench, band: str, hz: float) -> None:
    """The person retunes roughly, the source finds the window at each point."""
    skerry.put_unit(2)

    outcome = skerry.run(preselector, "preselector", Phase.AS_FOUND, on_bands(band, way=WayName.THROUGH_RECEIVER))

    found = figures(outcome, f"band {band}")
    pointer, width = found["knob pointer error"], found["3 dB width"]
    knob = true_knob(skerry, band, hz)
    truth = true_response(skerry, band, knob)
    assert abs(pointer.value - (knob - 5.0)) <= 4 * pointer.sigma + 0.02
    assert width.value * 1e3 == pytest.approx(truth["width_3db_hz"], rel=0.05)
    retuned = {asked.detail["to"] for asked in skerry.asked("set") if asked.subject == "dial"}
    assert len(retuned) >= 10
    drawn = [event.figures for event in skerry.sink.events if isinstance(event, CurveFitted)][-1]
    assert drawn["centre_hz"] == pytest.approx(1e3 * found["centre"].value, rel=1e-12)
    _, levels_db = drawn["levels"].values()
    assert len(levels_db) >= 7
    assert max(levels_db) == pytest.approx(max(drawn["curve"]["level_db"]), abs=1.0)


@pytest.mark.parametrize("seed", first_of([1, 3], 1))
def test_the_trimmers_are_peaked_and_every_band_comes_right(skerry: StepBench, seed: int) -> None:
    skerry.put_unit(seed)

    outcome = skerry.run(preselector, "preselector", Phase.ADJUST)

    assert outcome.verdict is Verdict.LEAVE
    assert {asked.subject for asked in skerry.asked("turn")} == {
        "preselector antenna trimmer",
        "preselector mixer trimmer",
    }
    adjusters = skerry.truth()
    bests = adjusters["bests by band"]
    for side in ("antenna", "mixer"):
        name = f"preselector {side} trimmer"
        assert abs(adjusters["adjusters"][name]["position_turns"] - bests[name]["25.5"]) < 0.15
    for band in ("4.5", "6", "8.5", "12", "16", "19", "25.5"):
        assert abs(true_knob(skerry, band, (float(band) + 0.25) * 1e6) - 5.0) < 0.3


@pytest.mark.parametrize(("seed", "band"), [(DRIFTED_16, "16"), (DRIFTED_12, "12")])
def test_a_drifted_capacitor_is_suspected_on_its_own_band_and_nowhere_else(
    skerry: StepBench, seed: int, band: str
) -> None:
    """The simulator's fault is 3 % more capacitance in the mixer circuit of that band."""
    skerry.put_unit(seed)
    assert f"drifted capacitor, preselector mixer circuit, band {band}" in skerry.truth()["faults"]

    outcome = skerry.run(preselector, "preselector", Phase.ADJUST)

    suspected = {
        one.where.partition(",")[0]
        for one in outcome.findings
        if one.judged is not None and one.judged.verdict is Verdict.SUSPECT
    }
    assert suspected == {f"band {band}"}
    text = " ".join(outcome.advice)
    share = float(text.split("as if it had ")[1].split(" ")[0])
    assert share == pytest.approx(3.0, abs=0.5)


def antenna_truth(bench: StepBench, dial_khz: float) -> tuple[float, float]:
    """Give the antenna circuit's centre error in per cent of its width, and its loss where the receiver is tuned."""
    bench.bench.do(do="set", control="dial", to=dial_khz)
    truth = bench.truth()
    circuit = truth["circuits"]["antenna circuit"]
    tuned_khz = dial_khz + truth["dial"]["error_by_passband_khz"]
    off = (circuit["centre_hz"] / 1e3 - tuned_khz) / (circuit["width_3db_hz"] / 1e3)
    return 100 * off, 10 * math.log10(1 + (2 * off) ** 2)


@pytest.mark.parametrize("seed", first_of([1, 2, 6], 1))
def test_the_antenna_circuit_is_measured_against_where_the_receiver_really_is(millrace: StepBench, seed: int) -> None:
    """Not against the dial: it is ganged with an oscillator whose dial may err."""
    millrace.put_unit(seed)

    outcome = millrace.run(preselector, "preselector", Phase.AS_FOUND)

    for dial_khz in (600.0, 1000.0, 1400.0):
        error_percent, loss_db = antenna_truth(millrace, dial_khz)
        found = figures(outcome, f"{dial_khz:g} kHz")
        error, left = found["centre error"], found["level still to be gained"]
        assert abs(error.value - error_percent) <= 4 * error.sigma
        assert abs(left.value - loss_db) <= 4 * left.sigma + 0.1
        assert found["loaded Q"].value == pytest.approx(60.0, rel=0.05)


@pytest.mark.parametrize("seed", first_of([1, 10], 1))
def test_the_antenna_trimmer_is_peaked_at_the_high_end_and_nothing_else_turned(millrace: StepBench, seed: int) -> None:
    """Where the low end follows of itself."""
    millrace.put_unit(seed)
    _, before_db = antenna_truth(millrace, 1400.0)

    outcome = millrace.run(preselector, "preselector", Phase.ADJUST)

    assert {asked.subject for asked in millrace.asked("turn")} == {"antenna trimmer"}
    assert before_db > 1.0
    assert antenna_truth(millrace, 1400.0)[1] < 0.1
    assert all(antenna_truth(millrace, mark)[1] < LEVEL_LIMIT_DB for mark in ANTENNA_MARKS_KHZ)
    assert outcome.verdict is Verdict.LEAVE


@pytest.mark.parametrize("seed", first_of([2, 3, 5, 9], 2))
def test_where_the_low_end_does_not_follow_the_gang_is_rocked_until_all_of_it_holds(
    millrace: StepBench, seed: int
) -> None:
    """By the truth: every mark within the step's limits, and the dial, which moved with it, within its own.

    Common practice, no source: the padder is adjusted for the most output while the gang is rocked, then the high
    end is gone over again.
    """
    millrace.put_unit(seed)

    outcome = millrace.run(preselector, "preselector", Phase.ADJUST)

    assert "oscillator padder" in {asked.subject for asked in millrace.asked("turn")}
    for mark in ANTENNA_MARKS_KHZ:
        error_percent, loss_db = antenna_truth(millrace, mark)
        assert abs(error_percent) < CENTRE_LIMIT_PERCENT
        assert loss_db < LEVEL_LIMIT_DB
    errors_khz = millrace.truth()["dial"]["errors_by_passband_khz"]
    assert max(abs(error) for error in errors_khz.values()) < DIAL_LIMIT_KHZ
    assert outcome.verdict is Verdict.LEAVE
    told = {one.where: one.figure for one in outcome.findings if (one.name, one.when) == ("dial error", None)}
    assert set(told) == {f"{mark} kHz" for mark in errors_khz}
    for mark, error in errors_khz.items():
        figure = told[f"{mark} kHz"]
        assert figure is not None
        assert abs(figure.value - error) <= 4 * figure.sigma


class NoPadderRobot(Robot):
    """Finds the padder rusted fast."""

    def answer(self, asked: Asked) -> str:
        """Turn everything but that."""
        return "cannot" if asked.subject == "oscillator padder" else super().answer(asked)


def test_a_gang_that_cannot_be_rocked_ends_in_a_suspected_part(millrace: StepBench) -> None:
    millrace.put_unit(2)
    rusted = StepBench(millrace.receiver, millrace.bench, NoPadderRobot(millrace.bench, FINGERS_TURNS))

    outcome = rusted.run(preselector, "preselector", Phase.ADJUST)

    assert outcome.verdict is Verdict.SUSPECT
    assert any("oscillator padder cannot be turned" in sentence for sentence in outcome.advice)
    suspected = {
        one.where for one in outcome.findings if one.judged is not None and one.judged.verdict is Verdict.SUSPECT
    }
    assert suspected == {"600 kHz"}


def through(task: Task) -> Task:
    """Look through the receiver."""
    return replace(task, way=next(one for one in task.step.ways if one.name is WayName.THROUGH_RECEIVER))


def test_through_the_receiver_the_ganged_circuit_shows_levels_and_no_response(millrace: StepBench) -> None:
    """Retuning the receiver would move the circuit itself, and it says so."""
    millrace.put_unit(5)

    outcome = millrace.run(preselector, "preselector", Phase.AS_FOUND, through)

    reasons = [one.reason for one in outcome.findings if one.name == "centre"]
    assert all(reason is not None and "ganged with the dial" in reason for reason in reasons)
    levels = [one for one in outcome.findings if one.name == "source level for the same output"]
    assert [one.where.partition(",")[0] for one in levels] == ["600 kHz", "1000 kHz", "1400 kHz"]
    assert not millrace.asked("turn")


@pytest.mark.parametrize("seed", first_of([2, 5, 9], 1))
def test_without_a_probe_the_gang_is_rocked_by_level_until_all_of_it_holds(millrace: StepBench, seed: int) -> None:
    """The padder goes through the peak while the source follows the receiver; what was gained is what the truth lost.

    Common practice, no source: adjust the padder for the most output while rocking the gang.
    """
    millrace.put_unit(seed)
    found_db = antenna_truth(millrace, 1400.0)[1]

    outcome = millrace.run(preselector, "preselector", Phase.ADJUST, through)

    assert {"antenna trimmer", "oscillator padder"} <= {asked.subject for asked in millrace.asked("turn")}
    left_db = antenna_truth(millrace, 1400.0)[1]
    assert all(antenna_truth(millrace, mark)[1] < 0.5 for mark in ANTENNA_MARKS_KHZ)
    errors_khz = millrace.truth()["dial"]["errors_by_passband_khz"]
    assert max(abs(error) for error in errors_khz.values()) < DIAL_LIMIT_KHZ
    assert outcome.verdict is Verdict.LEAVE
    before, after = (
        one.figure
        for one in outcome.findings
        if one.name == "source level for the same output" and one.where.startswith("1400 kHz")
    )
    assert before is not None
    assert after is not None
    assert before.value - after.value == pytest.approx(found_db - left_db, abs=1.0)


def test_the_robot_is_asked_nothing_that_is_not_on_the_receiver(skerry: StepBench) -> None:
    skerry.put_unit(1)
    skerry.run(preselector, "preselector", Phase.ADJUST, on_bands("19", "25.5"))
    receiver = skerry.bench.do(do="describe")["receiver"]

    assert {asked.subject for asked in skerry.asked("set")} <= {one["name"] for one in receiver["controls"]}
    assert {asked.subject for asked in skerry.asked("turn")} <= {one["name"] for one in receiver["adjusters"]}
