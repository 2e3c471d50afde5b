"""Sensitivity over real sockets, on both practice receivers, against the noise of their own grids."""

import pytest

from sequences.alignment.outcome import Phase
from sequences.kinds.sensitivity import LEVEL, sensitivity
from sequences.procedures.antenna import controls_at
from sequences.receiver.chain import mid_band
from simulators.radios.leads import Lead
from tests.bench.steps import StepBench, slow_bench
from tests.bench.test_rejection import STEPS_HZ, on_bands
from tests.bench.true_antenna import true_level_dbm, unit


@pytest.mark.parametrize(
    ("receiver_id", "band"), [("skerry-7", "4.5"), ("skerry-7", "25.5"), ("millrace-5", "broadcast")]
)
@pytest.mark.parametrize("seed", [2, 4])
def test_the_level_is_that_of_nine_times_the_receiver_s_own_noise(
    request: pytest.FixtureRequest, receiver_id: str, band: str, seed: int
) -> None:
    bench = request.getfixturevalue(receiver_id.partition("-")[0])
    assert isinstance(bench, StepBench)
    bench.put_unit(seed)

    outcome = bench.run(sensitivity, "sensitivity", Phase.AS_FOUND, lambda task: on_bands(task, band))

    finding = next(one for one in outcome.findings if one.quantity == LEVEL)
    assert finding.figure is not None, finding.reason
    task = bench.task("sensitivity", Phase.AS_FOUND)
    (spot,) = on_bands(task, band).step.spots
    lead = Lead("antenna", task.way.hookup.source_through)
    radio = unit(receiver_id, seed, lead, {**task.way.hookup.controls, **controls_at(bench.receiver, spot)})
    signal_hz = mid_band(bench.receiver, band).signal_khz * 1e3
    truth_dbm = true_level_dbm(radio, lead, signal_hz, STEPS_HZ[receiver_id])
    assert abs(finding.figure.value - truth_dbm) <= 3.0 * finding.figure.sigma + 0.3
    assert finding.figure.sigma < 1.0


def test_a_detector_that_takes_its_time_hides_no_noise() -> None:
    """Each look at the noise comes after one at a signal 18 dB above it."""
    with slow_bench("skerry-7") as bench:
        bench.put_unit(2)

        outcome = bench.run(sensitivity, "sensitivity", Phase.AS_FOUND, lambda task: on_bands(task, "12"))

        finding = next(one for one in outcome.findings if one.quantity == LEVEL)
        assert finding.figure is not None, finding.reason
        task = on_bands(bench.task("sensitivity", Phase.AS_FOUND), "12")
        (spot,) = task.step.spots
        lead = Lead("antenna", task.way.hookup.source_through)
        radio = unit("skerry-7", 2, lead, {**task.way.hookup.controls, **controls_at(bench.receiver, spot)})
        truth_dbm = true_level_dbm(radio, lead, 1e3 * (spot.source_khz or 0.0), STEPS_HZ["skerry-7"])
        assert abs(finding.figure.value - truth_dbm) <= 3.0 * finding.figure.sigma
