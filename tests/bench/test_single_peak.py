"""The tunable IF's circuit of the practice receiver, over real sockets, turned by the robot."""

import math

import pytest

from sequences.alignment.outcome import Phase
from sequences.kinds.single_peak import single_peak
from sequences.numerics.verdicts.verdict import Verdict
from sequences.procedures.adjusting.circuit_findings import GAINED, LEFT
from tests.bench.steps import StepBench, slow_bench, step_bench, with_source_level

STEP = "filter-tunable-if-circuit"
TRIMMER = "tunable IF trimmer"
WIDTH_HZ = 40e3


def heard_hz(on: StepBench) -> float:
    """Where the source stands at the end: at the alignment frequency, or where the receiver is tuned instead."""
    return float(on.bench.ask(on.bench.source, "FREQ?"))


def peak_hz(on: StepBench) -> float:
    """The circuit's own peak, by the simulator."""
    return float(on.truth()["circuits"]["tunable IF"]["peak_hz"])


@pytest.mark.parametrize(("seed", "coarse_turns"), [(1, 0.0), (2, 0.0625), (3, 0.0), (9, 0.0625)])
def test_the_trimmer_ends_where_the_simulator_has_its_peak(seed: int, coarse_turns: float) -> None:
    """Where the dial is off, it is the frequency the receiver hears that counts, and a doubt says so."""
    with step_bench("skerry-7", "--seed", str(seed), coarse_turns=coarse_turns) as on:
        before_hz = peak_hz(on)
        outcome = on.run(single_peak, STEP, Phase.ADJUST)

        off_hz = peak_hz(on) - heard_hz(on)
        assert abs(off_hz) < 0.15 * WIDTH_HZ, "0.4 dB of the 0.5 dB allowed"
        assert abs(off_hz) < abs(before_hz - heard_hz(on)) + 0.05 * WIDTH_HZ
        assert outcome.verdict is Verdict.LEAVE
        left = next(finding.figure for finding in outcome.findings if finding.name == LEFT.name)
        assert left is not None
        assert left.value < 0.5
        assert {asked.subject for asked in on.asked("turn")} == {TRIMMER}
        assert len(on.asked("turn")) <= 20
        beside = abs(heard_hz(on) - 3.1e6) > 0.125 * WIDTH_HZ
        assert any("its dial or an oscillator is off" in doubt for doubt in outcome.doubts) == beside


def test_what_was_gained_is_what_the_simulator_says() -> None:
    """A receiver as its maker meant it, its trimmer then turned two turns away."""
    with step_bench("skerry-7", "--seed", "4", "--misalignment", "0") as on:
        on.bench.do(do="set", control="dial", to=300.0)
        on.bench.do(do="turn", adjuster=TRIMMER, turns=2.0)
        before = on.truth()["circuits"]["tunable IF"]
        outcome = on.run(single_peak, STEP, Phase.ADJUST)

        adjuster = on.truth()["adjusters"][TRIMMER]
        assert abs(adjuster["off_turns"]) < 0.13
        half_widths = 2 * (before["peak_hz"] - 3.1e6) / before["width_3db_hz"]
        gained = next(finding.figure for finding in outcome.findings if finding.name == GAINED.name)
        assert gained is not None
        universal_db = 10 * math.log10(1 + half_widths**2)
        assert abs(gained.value - universal_db) < 4 * gained.sigma + 0.1
        assert outcome.doubts == ()


def test_measuring_turns_nothing_and_too_strong_a_source_is_lowered() -> None:
    """At -10 dBm the last valve is driven far into its ceiling."""
    with step_bench("skerry-7", "--seed", "4", "--misalignment", "0") as on:
        outcome = on.run(single_peak, STEP, Phase.AS_FOUND, lambda task: with_source_level(task, "first mixer", -10.0))

        assert not on.asked("turn")
        assert any("flattened" in notice for notice in on.notices())
        assert any("flattened" in doubt for doubt in outcome.doubts)


def test_a_detector_that_takes_its_time_changes_nothing() -> None:
    """The detector's lag and the meter's own time, all of it passing on the bench."""
    with slow_bench("skerry-7", "--seed", "5") as on:
        outcome = on.run(single_peak, STEP, Phase.ADJUST)

        assert abs(peak_hz(on) - heard_hz(on)) < 0.15 * WIDTH_HZ
        assert outcome.verdict is Verdict.LEAVE
