"""Selectivity over real sockets, on both practice receivers, against their own physics."""

import numpy as np
import pytest

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.events import ReadingTaken
from sequences.kinds.selectivity.layout import width_choices
from sequences.kinds.selectivity.procedure import selectivity
from sequences.numerics.verdicts.verdict import Verdict
from simulators.physics.response import TrueResponse
from tests.bench.steps import StepBench
from tests.bench.test_rejection import held_to, on_bands, with_highest
from tests.bench.true_proof import TrueUnit, unit

SEED = 2


def true_selectivity(bench: StepBench, task: Task, choice: str | None) -> TrueResponse:
    """Search the carrier that reaches the unit's detector, before gain control, for the source's every frequency."""
    (spot,) = task.step.spots
    control, _ = width_choices(bench.receiver)
    width = {control: choice} if control is not None and choice is not None else {}
    return TrueUnit.of(unit(bench.receiver.id, SEED), task, spot, width).response()


def figures(outcome: StepOutcome, where: str) -> dict[str, float]:
    """Give the figures of one look, and each one's sigma, by key."""
    here = [one for one in outcome.findings if one.where == where]
    return {one.quantity.key: one.figure.value for one in here if one.figure is not None}


@pytest.mark.parametrize(("receiver", "band"), [("skerry", "4.5"), ("millrace", "broadcast")])
def test_widths_and_shape_factor_are_those_of_the_receiver_s_own_circuits(
    request: pytest.FixtureRequest, receiver: str, band: str
) -> None:
    """At every width; and the strong signal that a skirt needs never stands on the passband."""
    bench = request.getfixturevalue(receiver)
    assert isinstance(bench, StepBench)
    bench.put_unit(SEED)
    bench.sink.events.clear()
    tasks: list[Task] = []

    def middle(task: Task) -> Task:
        tasks.append(on_bands(task, band))
        return tasks[-1]

    outcome = bench.run(selectivity, "selectivity", Phase.AS_FOUND, middle)

    (spot,) = tasks[0].step.spots
    _, choices = width_choices(bench.receiver)
    for choice in choices:
        where = choice or f"{spot.source_khz:g} kHz"
        here = {one.quantity.key: one.figure for one in outcome.findings if one.where == where}
        truth = true_selectivity(bench, tasks[0], choice)
        assert truth.width_6db_hz is not None
        assert truth.width_60db_hz is not None
        for key, true in (
            ("selectivity-6db", truth.width_6db_hz),
            ("selectivity-60db", truth.width_60db_hz),
            ("shape-factor", truth.width_60db_hz / truth.width_6db_hz),
        ):
            figure = here[key]
            assert figure is not None
            assert abs(figure.value - true) <= 3.5 * figure.sigma
            assert figure.sigma < 0.005 * true
    assert outcome.verdict is Verdict.LEAVE
    assert not bench.asked("turn")
    readings = [event for event in bench.sink.events if isinstance(event, ReadingTaken)]
    volts = [abs(one.value) for one in readings if one.purpose == "selectivity" and one.value is not None]
    assert max(volts) < 6.0 * float(np.median(volts))


@pytest.mark.parametrize(("limit", "suspected"), [(9.0, False), (1.5, True)])
def test_where_60_db_cannot_be_reached_the_shape_factor_is_told_as_at_least_so_much(
    skerry: StepBench, limit: float, suspected: bool
) -> None:
    """With a source of at most -45 dBm: enough to say that 1.5 is missed, and too little to say whether 9 is met."""
    skerry.put_unit(SEED)

    outcome = skerry.run(
        selectivity,
        "selectivity",
        Phase.AS_FOUND,
        lambda task: held_to(with_highest(on_bands(task, "4.5"), -45.0), limit),
    )

    found = figures(outcome, "1.6 kHz")
    assert 20.0 < found["selectivity-range"] < 60.0
    truth = true_selectivity(skerry, on_bands(skerry.task("selectivity", Phase.AS_FOUND), "4.5"), "1.6 kHz")
    assert truth.width_60db_hz is not None
    assert 0.3 * truth.width_60db_hz < found["selectivity-60db-bound"] < truth.width_60db_hz
    assert outcome.verdict is (Verdict.SUSPECT if suspected else None)
    if suspected:
        assert 1.5 < found["shape-factor-bound"] < truth.width_60db_hz / found["selectivity-6db"]
    else:
        shape = next(one for one in outcome.findings if one.quantity.key == "shape-factor")
        assert shape.figure is None
        assert "at least" in (shape.reason or "")
        assert "cannot be told" in (shape.reason or "")
