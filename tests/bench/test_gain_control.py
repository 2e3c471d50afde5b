"""Gain control and signal meter over real sockets, in stepped time, against the units' own loops."""

import math
from collections.abc import Iterator

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.kinds.gain_control.procedure import gain_control
from sequences.kinds.signal_meter import signal_meter
from sequences.numerics.verdicts.verdict import Verdict
from tests.bench.steps import StepBench, slow_bench
from tests.bench.test_rejection import held_to, with_highest
from tests.bench.true_proof import TrueUnit, unit

SEED = 2
BETWEEN_DB, VERDICTS = 36.0, {"skerry-7": Verdict.LEAVE, "millrace-5": Verdict.SUSPECT}
"""A limit that the one meets and the other does not: nothing that may be turned moves it, so a part is suspected."""


@pytest.fixture(scope="module", params=["skerry-7", "millrace-5"])
def bench(request: pytest.FixtureRequest) -> Iterator[StepBench]:
    """A receiver whose gain control takes its time."""
    with slow_bench(request.param, "--delays", "meter=0.05") as slow:
        slow.put_unit(SEED)
        yield slow


def true_unit(bench: StepBench, task: Task, *, at_rest: bool = True, agc: str | None = None) -> TrueUnit:
    """Give the same unit by itself, tuned as the step tunes it, with the AGC switch standing so."""
    switch = {} if agc is None else {"agc": agc}
    return TrueUnit.of(unit(bench.receiver.id, SEED, at_rest=at_rest), task, task.step.spots[0], switch)


def agrees(finding: Finding, truth: float, floor: float) -> None:
    """Hold a figure against the truth."""
    assert finding.figure is not None, finding.reason
    assert abs(finding.figure.value - truth) <= 3.0 * math.hypot(finding.figure.sigma, floor), finding


def by_key(outcome: StepOutcome, key: str) -> list[Finding]:
    """Give the figures of one quantity."""
    return [finding for finding in outcome.findings if finding.quantity.key == key]


def test_held_range_rise_and_release_are_those_of_the_loop(bench: StepBench) -> None:
    """The figure of merit and the rise to 0.05 dB; the release to half a reading; a quick attack is not made up."""
    task = bench.task("gain-control", Phase.AS_FOUND)
    places = ("fast", "slow") if "agc" in bench.receiver.controls else (None,)

    outcome = bench.run(gain_control, "gain-control", Phase.AS_FOUND, lambda task: held_to(task, BETWEEN_DB))

    true = true_unit(bench, task, agc=places[0])
    (merit,), (rise,) = by_key(outcome, "agc-merit"), by_key(outcome, "agc-rise")
    agrees(merit, true.merit_db(), 0.02)
    agrees(rise, true.rise_db(), 0.02)
    assert outcome.verdict is VERDICTS[bench.receiver.id]
    for place, finding in zip(places, by_key(outcome, "agc-release"), strict=True):
        agrees(finding, true_unit(bench, task, at_rest=False, agc=place).release_s(), 0.0)
        assert finding.figure is not None
        assert finding.figure.sigma < 0.15
    assert len(by_key(outcome, "agc-attack")) + sum("attack" in one for one in outcome.advice) == len(places)


@pytest.mark.parametrize(("limit_db", "told"), [(10.0, True), (36.0, False)])
def test_from_less_than_100_millivolts_the_figure_is_told_as_at_least_so_much(
    bench: StepBench, limit_db: float, told: bool
) -> None:
    """With a source of at most -20 dBm: enough for the one limit, and too little to decide on the other."""
    outcome = bench.run(
        gain_control, "gain-control", Phase.AS_FOUND, lambda task: held_to(with_highest(task, -20.0), limit_db)
    )

    (bound,) = by_key(outcome, "agc-merit-bound")
    task = bench.task("gain-control", Phase.AS_FOUND)
    place = "fast" if "agc" in bench.receiver.controls else None
    if told:
        assert bound.figure is not None
        assert 10.0 < bound.figure.value < true_unit(bench, task, agc=place).merit_db()
        assert outcome.verdict is Verdict.LEAVE
    else:
        assert bound.figure is None
        assert "cannot be told without one of 100 mV" in (bound.reason or "")
        assert outcome.verdict is None


def test_each_mark_of_a_signal_meter_is_found_at_its_level(bench: StepBench) -> None:
    """S9 against IARU Region 1 R.1, -73 dBm; the marks of this meter are spaced by its own loop."""
    marks = bench.receiver.meter_points["agc line"].s_marks_v
    if not marks:
        return
    task = bench.task("signal-meter", Phase.AS_FOUND)

    outcome = bench.run(signal_meter, "signal-meter", Phase.AS_FOUND)

    true = true_unit(bench, task)
    true_dbm = {mark: true.mark_dbm(volts) for mark, volts in marks.items()}
    levels = by_key(outcome, "s-mark-level")
    assert [one.where for one in levels] == list(marks)
    for level in levels:
        agrees(level, true_dbm[level.where], 0.02)
    (error,), (one_unit,) = by_key(outcome, "s9-error"), by_key(outcome, "s-unit")
    agrees(error, true_dbm["S9"] + 73.0, 0.02)
    agrees(one_unit, (true_dbm["S9"] - true_dbm["S5"]) / 4.0, 0.02)
    assert outcome.verdict is Verdict.LEAVE
