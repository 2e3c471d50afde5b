"""The passband control's knob over real sockets: edges by scan, the beat oscillator by count."""

from collections.abc import Iterator

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.kinds.fixed_oscillator import fixed_oscillator
from sequences.kinds.passband_symmetry import passband_symmetry
from sequences.numerics.verdicts.verdict import Verdict
from tests.bench.steps import StepBench, step_bench

LIMIT_HZ = 60.0


@pytest.fixture(scope="module")
def skerry() -> Iterator[StepBench]:
    """A Skerry 7; each test puts its own unit on the bench."""
    with step_bench("skerry-7") as bench:
        yield bench


def true_notes_hz(bench: StepBench) -> tuple[float, float]:
    """Give the highest notes at the two ends, by the simulator's own truth."""
    truth = bench.truth()["passband symmetry"]
    return -truth["lower edge at low end, from beat oscillator, hz"], truth[
        "upper edge at high end, from beat oscillator, hz"
    ]


def figure(outcome: StepOutcome, name: str, where: str = "") -> Finding:
    """Give a finding."""
    return next(one for one in outcome.findings if (one.name, one.where, one.when) == (name, where, None))


def test_it_is_refused_while_the_beat_oscillator_is_off(skerry: StepBench) -> None:
    """Nothing is swept and nothing is turned."""
    skerry.bench.do(do="reseed", seed=1)
    skerry.robot.done.clear()

    outcome = skerry.run(passband_symmetry, "passband-symmetry", Phase.ADJUST)

    (found,) = outcome.findings
    assert found.figure is None
    assert "within its limit of 20 Hz first" in (found.reason or "")
    assert not skerry.asked("turn")


@pytest.mark.parametrize("seed", [1, 5, 9])
def test_the_two_notes_are_the_simulator_s_own_and_the_knob_makes_them_alike(skerry: StepBench, seed: int) -> None:
    """Within 4 sigma as found and as left; alike within the limit by the truth."""
    skerry.bench.do(do="reseed", seed=seed)
    skerry.run(fixed_oscillator, "beat-oscillator", Phase.ADJUST)
    before = true_notes_hz(skerry)

    found = skerry.run(passband_symmetry, "passband-symmetry", Phase.AS_FOUND)
    left = skerry.run(passband_symmetry, "passband-symmetry", Phase.ADJUST)

    after = true_notes_hz(skerry)
    for outcome, (low_hz, high_hz) in ((found, before), (left, after)):
        for where, truth_hz in (("low end", low_hz), ("high end", high_hz)):
            note = figure(outcome, "highest note that passes", where).figure
            assert note is not None
            assert abs(note.value - truth_hz) <= 4 * note.sigma
        difference = figure(outcome, "difference of the two ends").figure
        assert difference is not None
        assert abs(difference.value - (high_hz - low_hz)) <= 4 * difference.sigma
    assert abs(after[1] - after[0]) <= LIMIT_HZ
    assert left.verdict is Verdict.LEAVE
    assert bool(left.turned) == (abs(before[1] - before[0]) > LIMIT_HZ)
    assert all("mark" in asked.text for asked in skerry.asked("turn") if asked.subject == "passband knob")
