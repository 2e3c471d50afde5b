"""Every step of every plan, in each of its ways, played through before anything is switched on.

On paper each oscillator counts what it should, a source gives what a circuit on its nominal frequency would let through
to a linear detector, and the person does all that is asked.
"""

import math

import pytest

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.rehearse import PaperBench, Rehearsal, rehearse
from sequences.engine.requests import Ask, SetOutput
from sequences.engine.run import Limits
from sequences.kinds import alignment_plan, procedure_for
from sequences.plan.content import Step, WayName
from sequences.receiver.chain import ifs_in_order, widest_khz
from sequences.receiver.file import shipped_receivers
from sequences.receiver.model import Receiver

QUIET_V, RIPPLE_V = 0.01, 1e-4
GAIN_DB = 52.0
BEAT_HZ = 700.0

WAYS = [
    pytest.param(receiver, step, way.name, phase, id=f"{receiver.id}: {step.id}, {way.name}, {phase}")
    for receiver in shipped_receivers()
    for step in alignment_plan(receiver).steps
    for way in step.ways
    for phase in (Phase.AS_FOUND, Phase.ADJUST)
]


def paper_bench(receiver: Receiver, step: Step) -> PaperBench:
    """A linear detector behind one circuit; a counter that reads what the step's oscillator should."""
    spots_hz = [1e3 * spot.source_khz for spot in step.spots if spot.source_khz is not None]
    nominal_hz = 1e3 * step.nominal_khz if step.nominal_khz is not None else BEAT_HZ
    last_width_hz = 1e3 * widest_khz(receiver.ifs[ifs_in_order(receiver)[-1]])
    width_hz = step.targets[0].nominal_width_hz if step.targets else last_width_hz
    looks = iter(range(10**9))

    def volts(frequency_hz: float, power_dbm: float | None) -> float:
        ripple = RIPPLE_V * math.sin(float(next(looks)))  # a meter that never moves is a broken one
        if power_dbm is None or frequency_hz <= 0.0:
            return QUIET_V + ripple
        off_hz = min(abs(frequency_hz - spot_hz) for spot_hz in (*spots_hz, nominal_hz))
        return (
            QUIET_V + ripple + math.pow(10.0, (power_dbm + GAIN_DB) / 20.0) / math.hypot(1.0, 2.0 * off_hz / width_hz)
        )

    counts = step.way(WayName.COUNT) if any(way.name is WayName.COUNT for way in step.ways) else None
    return PaperBench(volts, lambda _: BEAT_HZ if counts is None else nominal_hz)


def play(receiver: Receiver, step: Step, way: WayName, phase: Phase) -> Rehearsal:
    """Rehearse one run of one step."""
    by_point = {name: point.highest_level_dbm for name, point in receiver.source_points.items()}
    limits = Limits(min(by_point.values()), highest_by_point=by_point)
    return rehearse(procedure_for(Task(receiver, step, step.way(way), phase)), paper_bench(receiver, step), limits)


@pytest.mark.parametrize(("receiver", "step", "way", "phase"), WAYS)
def test_no_step_asks_for_more_than_its_points_bear_nor_for_what_is_not_there(
    receiver: Receiver, step: Step, way: WayName, phase: Phase
) -> None:
    """`rehearse` refuses what is beyond a limit; leads come before output, and the output ends off."""
    rehearsal = play(receiver, step, way, phase)

    assert isinstance(rehearsal.outcome, StepOutcome)
    assert (rehearsal.outcome.step_id, rehearsal.outcome.phase) == (step.id, phase)
    assert rehearsal.outcome.findings
    asked = [each for each in rehearsal.requests if isinstance(each, Ask)]
    outputs = [(place, each.on) for place, each in enumerate(rehearsal.requests) if isinstance(each, SetOutput)]
    connected = next((place for place, each in enumerate(rehearsal.requests) if isinstance(each, Ask)), 0)
    assert all(place > connected for place, on in outputs if on)
    assert not outputs or outputs[-1][1] is False
    assert {each.subject for each in asked if each.action == "set"} <= set(receiver.controls)
    turned = {each.subject for each in asked if each.action == "turn"}
    assert turned <= {name for name, entry in receiver.adjusters.items() if not entry.factory_only}
    assert phase is Phase.ADJUST or not turned
    known = {None, *receiver.source_points, *receiver.meter_points, *receiver.counter_points}
    for each in asked:
        if each.action == "connect":
            assert {each.detail[role]["to"] for role in ("source", "meter", "counter")} <= known
