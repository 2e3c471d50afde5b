"""Image and IF rejection over real sockets, on both practice receivers, against their own physics."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.engine.run import Procedure
from sequences.kinds import if_rejection as if_kind
from sequences.kinds import image_rejection as image_kind
from sequences.numerics.verdicts.verdict import Verdict
from sequences.procedures.antenna import controls_at
from sequences.receiver.chain import dial_setting
from sequences.receiver.frequency_plan import tuning
from simulators.radios.leads import Lead
from tests.bench.steps import StepBench, slow_bench
from tests.bench.true_antenna import true_rejection_db, unit

STEPS_HZ = {"skerry-7": 250.0, "millrace-5": 500.0}
SEED = 2
IMAGE, IF = "image-rejection", "if-rejection"
PROCEDURES: dict[str, Callable[[Task], Procedure[StepOutcome]]] = {
    IMAGE: image_kind.image_rejection,
    IF: if_kind.if_rejection,
}


def on_bands(task: Task, *bands: str) -> Task:
    """Look at some bands only, in their middle."""
    middles = [
        sorted((spot for spot in task.step.spots if spot.band == band), key=lambda spot: spot.source_khz or 0.0)
        for band in bands
    ]
    spots = tuple(of_band[len(of_band) // 2] for of_band in middles)
    return replace(task, step=replace(task.step, spots=spots))


def truth_db(bench: StepBench, step_id: str, place: int) -> float:
    """Give the rejection at one spot of a step's plan, by the unit's own circuits."""
    task = bench.task(step_id, Phase.AS_FOUND)
    spot = task.step.spots[place]
    lead = Lead("antenna", task.way.hookup.source_through)
    radio = unit(bench.receiver.id, SEED, lead, {**task.way.hookup.controls, **controls_at(bench.receiver, spot)})
    assert spot.band is not None
    assert spot.dial_khz is not None
    first = tuning(bench.receiver, dial_setting(bench.receiver, spot.band, spot.dial_khz)).stages[0]
    unwanted_khz = first.image_khz if step_id == IMAGE else first.gives_khz
    return true_rejection_db(radio, lead, first.takes_khz * 1e3, unwanted_khz * 1e3, STEPS_HZ[bench.receiver.id])


def place_of(bench: StepBench, step_id: str, where: str) -> int:
    """Find a spot of a step by where its figure says it is."""
    spots = bench.task(step_id, Phase.AS_FOUND).step.spots
    return next(number for number, spot in enumerate(spots) if f"{spot.source_khz:g} kHz" in where)


def is_true(bench: StepBench, step_id: str, finding: Finding) -> None:
    """Hold a figure against the unit's own physics."""
    assert finding.figure is not None, finding.reason
    assert finding.figure.sigma < 1.0
    truth = truth_db(bench, step_id, place_of(bench, step_id, finding.where))
    assert abs(finding.figure.value - truth) <= 3.0 * finding.figure.sigma


@pytest.mark.parametrize("step_id", [IMAGE, IF])
@pytest.mark.parametrize("band", ["12", "25.5"])
def test_the_figure_is_what_the_skerry_s_own_circuits_take_off(skerry: StepBench, step_id: str, band: str) -> None:
    """A band's middle; on the highest band the IF is some 90 dB down."""
    skerry.put_unit(SEED)

    outcome = skerry.run(PROCEDURES[step_id], step_id, Phase.AS_FOUND, lambda task: on_bands(task, band))

    (finding,) = outcome.findings
    is_true(skerry, step_id, finding)
    assert finding.quantity.key == step_id
    assert not skerry.asked("turn")


def test_what_a_strong_signal_leaves_in_the_detector_is_not_taken_for_noise() -> None:
    """With a detector that takes its time: the look at the image comes straight after one at the strong signal."""
    with slow_bench("skerry-7") as bench:
        bench.put_unit(SEED)

        outcome = bench.run(PROCEDURES[IMAGE], IMAGE, Phase.AS_FOUND, lambda task: on_bands(task, "12"))

        (finding,) = outcome.findings
        assert finding.quantity == image_kind.REJECTION
        is_true(bench, IMAGE, finding)


@pytest.mark.parametrize("step_id", [IMAGE, IF])
def test_a_gang_is_proved_at_the_low_end_the_middle_and_the_high_end(millrace: StepBench, step_id: str) -> None:
    """The image is nearer, by ratio, at the high end; the IF at the low end."""
    millrace.put_unit(SEED)

    outcome = millrace.run(PROCEDURES[step_id], step_id, Phase.AS_FOUND)

    assert [each.where for each in outcome.findings] == ["600 kHz", "1070 kHz", "1400 kHz"]
    for finding in outcome.findings:
        is_true(millrace, step_id, finding)
    low, _, high = (each.figure.value for each in outcome.findings if each.figure)
    assert (low > high) is (step_id == IMAGE)


def test_a_receiver_held_against_more_than_it_has_is_suspected_of_a_bad_part(millrace: StepBench) -> None:
    """Nothing is left to turn once the antenna circuit has been aligned."""
    millrace.put_unit(SEED)

    outcome = millrace.run(
        PROCEDURES[IMAGE], IMAGE, Phase.AS_FOUND, lambda task: held_to(on_bands(task, "broadcast"), 60.0)
    )

    assert outcome.verdict is Verdict.SUSPECT
    assert outcome.findings[0].judged is not None
    assert "at least 60.0 dB" in outcome.findings[0].judged.text


@pytest.mark.parametrize(("limit_db", "passes"), [(55.0, True), (85.0, False)])
def test_an_if_that_is_not_heard_is_told_as_at_least_so_much_down(
    skerry: StepBench, limit_db: float, passes: bool
) -> None:
    """With a source of at most -25 dBm: enough for the one limit, and too little to decide on the other."""
    skerry.put_unit(SEED)

    outcome = skerry.run(
        PROCEDURES[IF], IF, Phase.AS_FOUND, lambda task: held_to(with_highest(on_bands(task, "25.5"), -25.0), limit_db)
    )

    (finding,) = outcome.findings
    assert finding.quantity == if_kind.BOUND
    if passes:
        assert finding.figure is not None, finding.reason
        place = place_of(skerry, IF, finding.where)
        assert limit_db < finding.figure.value <= truth_db(skerry, IF, place)
        assert outcome.verdict is Verdict.LEAVE
        assert finding.judged is not None
        assert finding.judged.text.startswith("The IF rejection, at least, at band 25.5")
    else:
        assert finding.figure is None
        assert finding.judged is None
        assert finding.reason is not None
        assert "at least" in finding.reason
        assert outcome.verdict is None


def held_to(task: Task, least_db: float) -> Task:
    """Give the task another limit."""
    return replace(task, step=replace(task.step, limits=(replace(task.step.limits[0], most=least_db),)))


def with_highest(task: Task, highest_dbm: float) -> Task:
    """Allow the source no more than this at the antenna."""
    receiver = task.receiver
    point = receiver.source_points["antenna"].model_copy(
        update={"highest_level_dbm": highest_dbm, "level_dbm": highest_dbm - 20.0}
    )
    points = {**receiver.source_points, "antenna": point}
    return replace(task, receiver=receiver.model_copy(update={"source_points": points}))
