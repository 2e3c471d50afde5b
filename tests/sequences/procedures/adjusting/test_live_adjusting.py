"""Live adjusting on paper: what a person signals, what cannot be turned, what the meter does, and how it ends."""

import math
from collections.abc import Callable, Generator
from dataclasses import dataclass, replace
from typing import Any

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task, Turned, Turning
from sequences.engine.events import Asked, GaugeKind, Guidance
from sequences.engine.instruments import Bench
from sequences.engine.requests import Request
from sequences.engine.run import Limits, Procedure, run
from sequences.engine.steps import read_meter
from sequences.errors import SequenceError, Stopped
from sequences.kinds.fixed_oscillator import fixed_oscillator
from sequences.kinds.single_peak import single_peak
from sequences.numerics.adjusters.coach import LiveReading, Word
from sequences.numerics.adjusters.coach_peak import PeakGoal
from sequences.numerics.verdicts.verdict import Verdict
from sequences.numerics.wording import say_db
from sequences.plan.content import WayName
from sequences.procedures.adjusting.circuit_findings import GAINED, LEFT
from sequences.procedures.adjusting.live_adjusting import bring_to_peak
from sequences.procedures.adjusting.turning import Hand as Account
from tests.fakes import FakeClock, StopAfter
from tests.sequences.procedures.circuit_desk import CircuitDesk, Detector, Slug, shipped, single_gain
from tests.sequences.procedures.circuit_desk import task_of as circuit_task
from tests.sequences.procedures.oscillator_desk import Desk
from tests.sequences.procedures.oscillator_desk import task_of as oscillator_task

STEP, TRIMMER = "filter-tunable-if-circuit", "tunable IF trimmer"
TUNED_HZ, Q = 3.1e6, 77.5

LOOK_S = 0.5
"""What a person takes from one look to the next."""

Hand = Callable[["LiveDesk", Guidance], str | None]
"""Turns by what is shown, and gives a signal."""


@dataclass
class LiveDesk(CircuitDesk):
    """The desk with a person who takes hold, and turns by `hand`; `hold` is the answer when asked to take hold."""

    hand: Hand = lambda _desk, _shown: "done"
    hold: str = "ready"
    stop_after: int = 1_000_000_000

    def answer(self, asked: Asked) -> str:
        """Take hold, or do what is asked."""
        if asked.action != "adjust":
            return super().answer(asked)
        self.asked.append(asked)
        assert asked.answers == ("ready", "cannot")
        return self.hold

    def signal(self) -> str | None:
        """Turn by what is shown last."""
        shown = self.sink.events[-1]
        if not isinstance(shown, Guidance) or shown.gauge is GaugeKind.STEP_AND_FIT:
            return None
        self.clock.sleep(LOOK_S)
        return self.hand(self, shown)

    def adjust(self) -> StepOutcome:
        """Adjust live, to the end."""
        return self.run(single_peak, replace(circuit_task(self.receiver, STEP, Phase.ADJUST), turning=Turning.LIVE))

    def shown(self) -> list[Guidance]:
        """Give all guidance of the level."""
        return [each for each in self.sink.events if isinstance(each, Guidance)]


def live_desk(slug: Slug, hand: Hand, *, hold: str = "ready", detector: Detector | None = None) -> LiveDesk:
    """A circuit 40 kHz wide (Q = f / B) before a window 4 kHz wide."""

    def gain(on: CircuitDesk, frequency_hz: float, _point: str) -> float:
        window = 1 / math.sqrt(1 + ((frequency_hz - TUNED_HZ) / 2e3) ** 8)
        return 150.0 * window * single_gain(frequency_hz, TUNED_HZ, Q, on.slugs[TRIMMER].share)

    receiver = shipped("skerry-7")
    return LiveDesk(receiver, {TRIMMER: slug}, gain, detector or Detector(), hand=hand, hold=hold)


def finding(outcome: StepOutcome, name: str) -> Finding:
    """Give the last finding of a name."""
    return [one for one in outcome.findings if one.name == name][-1]


def obedient() -> Hand:
    """Turn a twentieth of a turn at each look, round once when told to turn back; say done when told that it is."""
    state = {"way": 1.0, "back": 0.0}

    def hand(on: LiveDesk, shown: Guidance) -> str | None:
        if shown.word is Word.DONE:
            return "done"
        back = float(shown.word in {Word.TURN_BACK, Word.PAST_IT})
        if back and not state["back"]:
            state["way"] = -state["way"]
        state["back"] = back
        if shown.word not in {Word.HOLD, Word.WAIT}:
            on.slugs[TRIMMER].turn(0.05 * state["way"])
        return None

    return hand


def after(looks: int, signal: str, turns: float = 0.0) -> Hand:
    """Turn evenly at each look, and signal after so many."""
    count = [0]

    def hand(on: LiveDesk, _shown: Guidance) -> str | None:
        count[0] += 1
        on.slugs[TRIMMER].turn(turns)
        return signal if count[0] >= looks else None

    return hand


@pytest.mark.parametrize("off_turns", [-2.0, -0.7, 1.3])
def test_an_obedient_hand_leaves_the_trimmer_near_its_peak(off_turns: float) -> None:
    on = live_desk(Slug(at=off_turns), obedient())

    outcome = on.adjust()

    lost_db = -20 * math.log10(single_gain(TUNED_HZ, TUNED_HZ, Q, on.slugs[TRIMMER].share))
    assert lost_db < 0.3
    assert outcome.turned == (Turned(TRIMMER, None),)
    left, gained = finding(outcome, LEFT.name), finding(outcome, GAINED.name)
    assert left.figure is not None
    assert gained.figure is not None
    before_db = 20 * math.log10(single_gain(TUNED_HZ, TUNED_HZ, Q, 0.01 * off_turns))
    assert gained.figure.value == pytest.approx(-before_db - lost_db, abs=4 * gained.figure.sigma + 0.15)
    assert outcome.verdict is Verdict.LEAVE
    assert any("turned by the meter" in sentence for sentence in outcome.advice)
    assert not on.turns()


def test_guidance_carries_the_time_of_the_run() -> None:
    """The clock on paper moves where a settling is waited for."""
    on = live_desk(Slug(at=-0.7), obedient())
    on.adjust()
    times = [shown.time_s for shown in on.shown()]

    assert times == sorted(times)
    assert times[0] > 0.0


def test_left_before_a_peak_was_seen_nobody_knows_what_is_left() -> None:
    outcome = live_desk(Slug(at=-2.0), after(8, "done", 0.05)).adjust()

    left = finding(outcome, LEFT.name)
    assert left.figure is None
    assert left.judged is None
    assert "turn it again" in (left.reason or "")
    assert outcome.verdict is None


def test_a_signal_from_before_the_adjuster_was_held_does_not_end_it() -> None:
    on = live_desk(Slug(at=-2.0), after(1, "done"))
    on.adjust()

    assert len(on.shown()) == 2


def test_one_that_never_moves_and_cannot_be_turned_sits_fast() -> None:
    outcome = live_desk(Slug(at=-2.0, seized=True), after(20, "cannot", 0.05)).adjust()

    assert outcome.verdict is Verdict.SUSPECT
    assert "cannot be turned" in (finding(outcome, LEFT.name).reason or "")


class NothingToRead:
    """A gauge whose meter gives no number."""

    kind, unit = GaugeKind.LEVEL, "dB"

    def read(self) -> Generator[Request, Any, LiveReading]:
        """Read nothing."""
        yield from read_meter("nothing")
        return LiveReading(None)


def test_where_nothing_was_ever_read_no_adjuster_is_called_stuck() -> None:
    on, account = live_desk(Slug(at=-2.0), after(20, "cannot", 0.05)), Account()

    def blindly(task: Task) -> Procedure[StepOutcome]:
        yield from bring_to_peak(PeakGoal(TRIMMER, 0.05, say_db), NothingToRead(), account, "It is to be peaked.")
        return StepOutcome(task.step.id, task.phase, ())

    with pytest.raises(SequenceError, match=r"no reading while tunable IF trimmer was turned.*check the leads"):
        on.run(blindly, circuit_task(on.receiver, STEP, Phase.ADJUST))
    assert not account.fast


def test_one_that_is_not_even_taken_hold_of_sits_fast() -> None:
    on = live_desk(Slug(at=-2.0), after(1, "done"), hold="cannot")
    outcome = on.adjust()

    assert outcome.verdict is Verdict.SUSPECT
    assert not on.shown()
    assert not outcome.turned


def test_one_that_comes_to_its_end_short_of_the_peak_points_to_a_capacitor() -> None:
    outcome = live_desk(Slug(at=-4.0, high_end=-2.0), after(60, "cannot", 0.05)).adjust()

    assert outcome.verdict is Verdict.SUSPECT
    assert "end of its travel" in (finding(outcome, LEFT.name).reason or "")


def test_a_meter_that_overloads_on_the_way_has_the_source_lowered_and_goes_on() -> None:
    """A hand that jumps onto the peak drives the meter over its range for one reading."""
    jumped = [False]
    steady = obedient()

    def hand(on: LiveDesk, shown: Guidance) -> str | None:
        if len(on.shown()) == 5 and not jumped[0]:
            jumped[0] = True
            on.slugs[TRIMMER].turn(5.0)
            return None
        return steady(on, shown)

    on = live_desk(Slug(at=-5.0), hand, detector=Detector(overload_volts=0.06))
    on.adjust()

    words = [shown.word for shown in on.shown()]
    assert Word.WAIT in words
    assert words[-1] is Word.DONE
    assert -20 * math.log10(single_gain(TUNED_HZ, TUNED_HZ, Q, on.slugs[TRIMMER].share)) < 0.5


def test_a_stop_ends_it_with_the_source_off() -> None:
    on = live_desk(Slug(at=-2.0), lambda _desk, _shown: None)
    task = replace(circuit_task(on.receiver, STEP, Phase.ADJUST), turning=Turning.LIVE)

    with pytest.raises(Stopped):
        run(
            single_peak(task),
            Bench(source=on.source, meter=on.meter),
            emit=on.sink,
            stop=StopAfter(400),
            clock=FakeClock(),
            limits=Limits(highest_power_dbm=0.0),
            name="live",
            person=on,
        )

    assert on.shown()
    assert not on.source.output_on


@dataclass
class LiveOscillators(Desk):
    """The oscillators' desk with an obedient hand on the slug."""

    def answer(self, asked: Asked) -> str:
        """Take hold, or do what is asked."""
        if asked.action != "adjust":
            return super().answer(asked)
        self.asked.append(asked)
        return "ready"

    def signal(self) -> str | None:
        """Turn the way that is told, a hundredth of a turn where that is near and a tenth where not."""
        shown = self.sink.events[-1]
        if not isinstance(shown, Guidance):
            return None
        self.clock.sleep(LOOK_S)
        if shown.word is Word.DONE:
            return "done"
        if shown.way is not None and shown.error is not None:
            turns = 0.01 if abs(shown.error) < 50.0 else 0.1
            turned = turns if shown.way == "clockwise" else -turns
            self.turned[shown.adjuster] = self.turned.get(shown.adjuster, 0.0) + turned
        return None


@pytest.mark.parametrize("way", [WayName.COUNT, WayName.OFFSET_BEAT])
@pytest.mark.parametrize("off_hz", [-300.0, 450.0])
def test_an_oscillator_is_brought_home_by_count_and_by_beat(way: WayName, off_hz: float) -> None:
    on = LiveOscillators(beat_hz=85e3 + off_hz)
    task: Task = replace(oscillator_task("beat-oscillator", Phase.ADJUST, way), turning=Turning.LIVE)

    outcome = on.run(fixed_oscillator, task)

    assert abs(on.beat_now_hz() - 85e3) < 10.0
    assert outcome.verdict is Verdict.LEAVE
    assert outcome.turned == (Turned("beat oscillator slug", None),)


def test_farther_off_than_the_beats_reach_the_error_still_shows_with_its_sign() -> None:
    """1.4 kHz is the offset of the two beats, and the oscillator is 2 kHz off."""
    on = LiveOscillators(beat_hz=83e3)
    task = replace(oscillator_task("beat-oscillator", Phase.ADJUST, WayName.OFFSET_BEAT), turning=Turning.LIVE)

    on.run(fixed_oscillator, task)

    shown = [event for event in on.sink.events if isinstance(event, Guidance)]
    assert shown[0].error == pytest.approx(-2000.0, abs=10.0)
    assert shown[0].way == "anticlockwise"
    assert abs(on.beat_now_hz() - 85e3) < 10.0
    assert not any(each.word in {Word.TURN_BACK, Word.PAST_IT} for each in shown)
