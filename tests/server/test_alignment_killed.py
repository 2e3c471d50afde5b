"""A service that is killed in the middle of a step: the next one finds the step where it was."""

import signal
from pathlib import Path

import pytest

from server.records.runs import INTERRUPTED
from tests.server.processes import ServiceProcess
from tests.server.technician import PracticeHands, Technician, up_to

STEP, SLUG = "beat-oscillator", "beat oscillator slug"


class PracticeProcess(ServiceProcess):
    """`peakwright practice` in a process of its own, much faster than real time."""

    def __init__(self, record: Path, seed: int) -> None:
        """Start it."""
        arguments = ("practice", "--port", "0", "--seed", str(seed), "--speed", "200", "--store", str(record))
        super().__init__("server", *arguments, record=record)
        self.me = Technician(self.http)
        self.hands = PracticeHands(self.me)

    def slug(self) -> float:
        """Give where the slug stands."""
        adjusters = self.me.get("/api/practice")["receiver"]["adjusters"]
        return float(next(one["position_turns"] for one in adjusters if one["name"] == SLUG))


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
def test_killed_at_a_question_the_step_goes_on_with_nothing_asked_twice(tmp_path: Path, number: signal.Signals) -> None:
    """The run that was on is over; controls stand as they were set; the slug stands where it was turned to."""
    record = tmp_path / "practice.sqlite"
    with PracticeProcess(record, seed=5) as service, service.stream():
        me = service.me
        job = me.new_job("skerry-7")
        me.leave_before(job, STEP)
        me.begin(job, STEP)
        me.work(up_to(service.hands, "turn"))
        assert service.hands(me.questions[-1]) == "done"
        me.answer(me.questions[-1]["number"], "done")
        assert me.work(up_to(service.hands, "turn")) is not None
        left = service.slug()
        service.end(number)

    with PracticeProcess(record, seed=6) as service, service.stream():
        me = service.me
        state = me.state(job, STEP)
        ended = INTERRUPTED if number is signal.SIGKILL else "stopped"
        assert (state["on"], [run["ending"] for run in state["runs"]]) == (True, ["completed", ended])
        assert state["as_found"]
        me.begin(job, STEP)
        assert me.work(up_to(service.hands, "turn")) is not None
        assert service.slug() == pytest.approx(left)
        assert "set" not in {one["action"] for one in me.questions}
        me.questions.clear()
        assert me.work(service.hands) is None
        assert me.state(job, STEP)["ending"] == "within its limits"
        assert abs(me.get("/api/practice/truth")["oscillators"]["beat oscillator"] - 85e3) < 20.0
        assert me.bench()["output_on"] is False
