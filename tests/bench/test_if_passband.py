"""The passbands of both practice receivers, over real sockets, at every width and can by can."""

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.kinds.if_passband.procedure import if_passband
from sequences.numerics.verdicts.verdict import Verdict
from sequences.procedures.adjusting.circuit_findings import CENTRE
from tests.bench.steps import slow_bench, step_bench, with_source_level

LIMIT_PERCENT = 10.0


def figures(outcome: StepOutcome, name: str, where: str) -> list[Finding]:
    """Give the findings of a name at a place; without one, those of the passband as a whole."""
    named = [finding for finding in outcome.findings if finding.name == name]
    return [finding for finding in named if (where in finding.where if where else not finding.where)]


@pytest.mark.parametrize("seed", [1, 2, 4, 5, 6, 7])
def test_every_selectivity_is_where_the_simulator_has_it(seed: int) -> None:
    """The slugs are the factory's: nothing is turned, whatever is found."""
    with step_bench("skerry-7", "--seed", str(seed)) as on:
        outcome = on.run(if_passband, "passband-third", Phase.ADJUST)

        assert not on.asked("turn")
        assert len(on.asked("connect")) == 1
        for choice in ("0.8 kHz", "1.6 kHz", "3.2 kHz"):
            on.bench.do(do="set", control="selectivity", to=choice)
            truth = on.truth()["circuits"]["85 kHz filter"]
            centre, width = (figures(outcome, name, choice)[0].figure for name in ("centre", "3 dB width"))
            assert centre is not None
            assert width is not None
            assert abs(centre.value - truth["centre_hz"]) < 4 * centre.sigma
            assert centre.sigma < 0.003 * truth["width_3db_hz"]
            assert abs(width.value - truth["width_3db_hz"]) < 4 * width.sigma
            error = figures(outcome, CENTRE.name, choice)[0]
            truly = 100 * (truth["centre_hz"] - 85e3) / truth["width_3db_hz"]
            assert error.judged is not None
            if abs(abs(truly) - LIMIT_PERCENT) > 1.0:
                assert (error.judged.verdict is Verdict.LEAVE) == (abs(truly) < LIMIT_PERCENT)


@pytest.mark.parametrize("seed", [1, 3])
def test_cans_are_told_apart_from_the_last_on(seed: int) -> None:
    """Each centre and width alone, and both together."""
    with step_bench("millrace-5", "--seed", str(seed)) as on:
        truth = on.truth()["circuits"]
        outcome = on.run(if_passband, "passband-main", Phase.AS_FOUND)

        assert not on.asked("turn")
        for can, where in (("can 1", "can 1 alone"), ("can 2", "can 2 alone"), ("IF", "")):
            for name, key in (("centre", "centre_hz"), ("3 dB width", "width_3db_hz")):
                found = figures(outcome, name, where)[-1].figure
                assert found is not None
                assert abs(found.value - truth[can][key]) < 4 * found.sigma


def test_the_can_that_is_off_is_set_and_the_passband_ends_within_its_limits() -> None:
    """By the simulator's truth as well as by our own."""
    with step_bench("millrace-5", "--seed", "1") as on:
        before = on.truth()["circuits"]["IF"]
        assert abs(before["centre_hz"] - 455e3) > 0.1 * before["width_3db_hz"]

        outcome = on.run(if_passband, "passband-main", Phase.ADJUST)

        after = on.truth()["circuits"]["IF"]
        assert abs(after["centre_hz"] - 455e3) < 0.1 * after["width_3db_hz"]
        assert abs(after["width_3db_hz"] - 8e3) < 0.25 * 8e3
        assert {asked.subject for asked in on.asked("turn")} == {"can 1 primary", "can 1 secondary"}
        assert outcome.verdict is Verdict.LEAVE


@pytest.mark.parametrize(
    ("receiver", "step", "point", "choice"),
    [("skerry-7", "passband-third", "third mixer", "1.6 kHz"), ("millrace-5", "passband-main", "converter grid", "")],
)
def test_a_source_far_too_strong_is_lowered_and_the_width_stays_true(
    receiver: str, step: str, point: str, choice: str
) -> None:
    """AGC on the one, the last valve's ceiling on the other: read so, the passband would look far too wide."""
    with step_bench(receiver, "--seed", "5") as on:
        outcome = on.run(if_passband, step, Phase.AS_FOUND, lambda task: with_source_level(task, point, -10.0))

        assert any("flattened" in notice for notice in on.notices())
        assert any("flattened" in doubt for doubt in outcome.doubts)
        if choice:
            on.bench.do(do="set", control="selectivity", to=choice)
        truth = on.truth()["scan"]
        width = figures(outcome, "3 dB width", choice)[-1].figure
        assert width is not None
        assert abs(width.value - truth["width_3db_hz"]) < 4 * width.sigma


def test_agc_that_takes_its_time_changes_nothing() -> None:
    """AGC attack and release, detector lag and the meter's own time, all of it passing on the bench."""
    with slow_bench("millrace-5", "--seed", "2") as on:
        outcome = on.run(if_passband, "passband-main", Phase.AS_FOUND)

        truth = on.truth()["circuits"]
        for can, where in (("can 1", "can 1 alone"), ("can 2", "can 2 alone"), ("IF", "")):
            found = figures(outcome, "centre", where)[-1].figure
            assert found is not None
            assert abs(found.value - truth[can]["centre_hz"]) < 4 * found.sigma
