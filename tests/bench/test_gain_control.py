"""Gain control and signal meter over real sockets, in stepped time, against the units' own loops."""

import math
from collections.abc import Iterator

import numpy as np
import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.kinds.gain_control.procedure import gain_control
from sequences.kinds.signal_meter import signal_meter
from sequences.numerics.verdicts.verdict import Verdict
from sequences.procedures.antenna import controls_at
from simulators.radios.leads import Lead, Signal
from simulators.radios.radio import Radio
from tests.bench.steps import StepBench, slow_bench
from tests.bench.test_rejection import STEPS_HZ, held_to
from tests.bench.true_antenna import power_for, seen_volts, top_hz, unit

SEED = 2
STRONG_DBM, WEAK_DBM, REFERENCE_DBM = -26.99, -66.99, -6.99
"""10 mV, 0.1 mV and 100 mV in 50 ohm: 20 log of volts over 0.2236 V."""

BETWEEN_DB, VERDICTS = 36.0, {"skerry-7": Verdict.LEAVE, "millrace-5": Verdict.SUSPECT}
"""A limit that the one meets and the other does not: nothing that may be turned moves it, so a part is suspected."""


@pytest.fixture(scope="module", params=["skerry-7", "millrace-5"])
def bench(request: pytest.FixtureRequest) -> Iterator[StepBench]:
    """A receiver whose gain control takes its time."""
    with slow_bench(request.param, "--delays", "meter=0.05") as slow:
        slow.put_unit(SEED)
        yield slow


def true_unit(bench: StepBench, task: Task, *, at_rest: bool = True, agc: str | None = None) -> tuple[Radio, Lead]:
    """Give the same unit by itself, tuned as the step tunes it, with the AGC switch standing so."""
    lead = Lead("antenna", task.way.hookup.source_through)
    switch = {} if agc is None else {"agc": agc}
    controls = {**task.way.hookup.controls, **controls_at(bench.receiver, task.step.spots[0]), **switch}
    return unit(bench.receiver.id, SEED, lead, controls, at_rest=at_rest), lead


def agrees(finding: Finding, truth: float, floor: float) -> None:
    """Hold a figure against the truth."""
    assert finding.figure is not None, finding.reason
    assert abs(finding.figure.value - truth) <= 3.0 * math.hypot(finding.figure.sigma, floor), finding


def release_s(radio: Radio, lead: Lead, frequency_hz: float) -> float:
    """Step the unit's own loop by milliseconds until its output stays within 3 dB of rest."""
    radio.feed(lead, Signal(frequency_hz, STRONG_DBM))
    radio.advance(60.0)
    radio.feed(lead, Signal(frequency_hz, WEAK_DBM))
    volts = []
    for _ in range(8000):
        radio.advance(1e-3)
        volts.append(radio.sight("detector", 0.02).volts)
    level_db = 20.0 * np.log10(volts)
    return 1e-3 * float(np.flatnonzero(np.abs(level_db - level_db[-1]) > 3.0)[-1] + 1)


def by_key(outcome: StepOutcome, key: str) -> list[Finding]:
    """Give the figures of one quantity."""
    return [finding for finding in outcome.findings if finding.quantity.key == key]


def test_held_range_rise_and_release_are_those_of_the_loop(bench: StepBench) -> None:
    """The figure of merit and the rise to 0.05 dB; the release to half a reading; a quick attack is not made up."""
    task = bench.task("gain-control", Phase.AS_FOUND)
    places = ("fast", "slow") if "agc" in bench.receiver.controls else (None,)

    outcome = bench.run(gain_control, "gain-control", Phase.AS_FOUND, lambda task: held_to(task, BETWEEN_DB))

    radio, lead = true_unit(bench, task, agc=places[0])
    at_hz = top_hz(radio, lead, 1e3 * (task.step.spots[0].source_khz or 0.0), STEPS_HZ[bench.receiver.id])
    strong_v, weak_v, reference_v = (
        seen_volts(radio, lead, Signal(at_hz, power), "detector") for power in (STRONG_DBM, -86.99, REFERENCE_DBM)
    )
    (merit,), (rise,) = by_key(outcome, "agc-merit"), by_key(outcome, "agc-rise")
    tenth_dbm = power_for(radio, lead, at_hz, "detector", reference_v / math.sqrt(10.0))
    agrees(merit, REFERENCE_DBM - tenth_dbm, 0.02)
    agrees(rise, 20.0 * math.log10(strong_v / weak_v), 0.02)
    assert outcome.verdict is VERDICTS[bench.receiver.id]
    for place, finding in zip(places, by_key(outcome, "agc-release"), strict=True):
        agrees(finding, release_s(*true_unit(bench, task, at_rest=False, agc=place), at_hz), 0.0)
        assert finding.figure is not None
        assert finding.figure.sigma < 0.15
    assert len(by_key(outcome, "agc-attack")) + sum("attack" in one for one in outcome.advice) == len(places)


def test_each_mark_of_a_signal_meter_is_found_at_its_level(bench: StepBench) -> None:
    """S9 against IARU Region 1 R.1, -73 dBm; the marks of this meter are spaced by its own loop."""
    marks = bench.receiver.meter_points["agc line"].s_marks_v
    if not marks:
        return
    task = bench.task("signal-meter", Phase.AS_FOUND)

    outcome = bench.run(signal_meter, "signal-meter", Phase.AS_FOUND)

    radio, lead = true_unit(bench, task)
    at_hz = top_hz(radio, lead, 1e3 * (task.step.spots[0].source_khz or 0.0), STEPS_HZ[bench.receiver.id])
    true_dbm = {mark: power_for(radio, lead, at_hz, "agc line", volts) for mark, volts in marks.items()}
    levels = by_key(outcome, "s-mark-level")
    assert [one.where for one in levels] == list(marks)
    for level in levels:
        agrees(level, true_dbm[level.where], 0.02)
    (error,), (one_unit,) = by_key(outcome, "s9-error"), by_key(outcome, "s-unit")
    agrees(error, true_dbm["S9"] + 73.0, 0.02)
    agrees(one_unit, (true_dbm["S9"] - true_dbm["S5"]) / 4.0, 0.02)
    assert outcome.verdict is Verdict.LEAVE
