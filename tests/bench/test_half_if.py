"""Half-IF rejection over real sockets, against the units' own curvature."""

from dataclasses import replace

import pytest

from sequences.alignment.outcome import Phase, Task
from sequences.kinds.half_if_rejection import BOUND, REJECTION, half_if_rejection
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import Spot
from tests.bench.steps import StepBench
from tests.bench.test_rejection import on_bands, with_highest
from tests.bench.true_proof import TrueUnit, unit

SEED = 2
HALF_IF_HZ = {"skerry-7": 0.5 * 3150e3, "millrace-5": 0.5 * 455e3}
"""Mid-band: half of the tunable IF, and of 455 kHz."""


def true_db(bench: StepBench, task: Task, spot: Spot) -> float:
    """Give what the unit's own curvature makes of a signal half an IF above."""
    return TrueUnit.of(unit(bench.receiver.id, SEED), task, spot).half_if_db(HALF_IF_HZ[bench.receiver.id])


def test_the_square_is_measured_over_the_dial(millrace: StepBench) -> None:
    """The antenna circuit takes off more at the low end, where half an IF is further away by ratio."""
    millrace.put_unit(SEED)
    task = millrace.task("half-if-rejection", Phase.AS_FOUND)

    outcome = millrace.run(half_if_rejection, "half-if-rejection", Phase.AS_FOUND)

    for finding, spot in zip(outcome.findings, task.step.spots, strict=True):
        assert finding.quantity == REJECTION
        assert finding.figure is not None, finding.reason
        assert abs(finding.figure.value - true_db(millrace, task, spot)) <= 3.0 * finding.figure.sigma
        assert finding.figure.sigma < 0.5
    low, _, high = (one.figure.value for one in outcome.findings if one.figure is not None)
    assert low > high
    assert outcome.verdict is Verdict.LEAVE


@pytest.mark.parametrize("receiver", ["skerry", "millrace"])
def test_a_half_if_that_is_not_heard_is_told_as_at_least_so_much_down(
    request: pytest.FixtureRequest, receiver: str
) -> None:
    """On the Skerry 7 at the highest level; on the Millrace 5 with a source of at most -50 dBm."""
    bench = request.getfixturevalue(receiver)
    assert isinstance(bench, StepBench)
    bench.put_unit(SEED)
    band, highest_dbm = ("12", 0.0) if receiver == "skerry" else ("broadcast", -50.0)

    def less(task: Task) -> Task:
        limited = with_highest(on_bands(task, band), highest_dbm)
        return replace(limited, step=replace(limited.step, limits=(replace(limited.step.limits[0], most=30.0),)))

    outcome = bench.run(half_if_rejection, "half-if-rejection", Phase.AS_FOUND, less)

    (finding,) = outcome.findings
    assert finding.quantity == BOUND
    assert finding.figure is not None, finding.reason
    task = on_bands(bench.task("half-if-rejection", Phase.AS_FOUND), band)
    assert 30.0 < finding.figure.value <= true_db(bench, task, task.step.spots[0])


def test_a_response_that_follows_the_source_is_never_taken_for_a_half_if(millrace: StepBench) -> None:
    """A file whose IF is four times the true one puts the half-IF on the image, which is straight."""
    millrace.put_unit(SEED)

    def wrong(task: Task) -> Task:
        task = on_bands(task, "broadcast")
        entry = task.receiver.ifs["main"].model_copy(update={"centre_khz": 4 * 455.0})
        return replace(task, receiver=task.receiver.model_copy(update={"ifs": {"main": entry}}))

    outcome = millrace.run(half_if_rejection, "half-if-rejection", Phase.AS_FOUND, wrong)

    (finding,) = outcome.findings
    assert finding.figure is None
    assert "it is another response" in (finding.reason or "")
    assert outcome.verdict is None
