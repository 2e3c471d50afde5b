"""The fixed oscillators of a receiver on paper: found each way, turned right, or a part suspected."""

from dataclasses import dataclass

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.engine.events import Asked
from sequences.engine.instruments import MeterReply
from sequences.kinds.fixed_oscillator import fixed_oscillator
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import WayName
from tests.sequences.procedures.oscillator_desk import Desk, measure_only, task_of

EACH_WAY = [WayName.COUNT, WayName.OFFSET_BEAT, WayName.BY_EAR]


def error(outcome: StepOutcome) -> Finding:
    """Give the judged figure."""
    return next(one for one in outcome.findings if (one.name, one.when) == ("frequency error", None))


@pytest.mark.parametrize("way", EACH_WAY)
@pytest.mark.parametrize("off_hz", [-700.0, -14.0, 85.0, 1600.0])
def test_the_beat_oscillator_s_error_is_found_with_its_sign(way: WayName, off_hz: float) -> None:
    """Within 4 sigma, whichever way it is measured; by ear and far off to 2 %, to spare the person questions."""
    desk = Desk(beat_hz=85e3 + off_hz)

    outcome = desk.run(fixed_oscillator, task_of("beat-oscillator", Phase.AS_FOUND, way))

    figure = error(outcome).figure
    assert figure is not None
    assert abs(figure.value - off_hz) <= 4 * figure.sigma
    assert figure.sigma < max(5.0, 0.02 * abs(off_hz) if way is WayName.BY_EAR else 0.0)
    assert not desk.turned


@pytest.mark.parametrize("way", EACH_WAY)
@pytest.mark.parametrize("beat_off_hz", [-19.0, 0.0, 15.0])
@pytest.mark.parametrize("off_hz", [-250.0, 40.0])
def test_a_mixer_s_oscillator_is_found_whatever_the_beat_oscillator_is_off_by(
    way: WayName, beat_off_hz: float, off_hz: float
) -> None:
    """Two injection points: through the mixer and behind it."""
    desk = Desk(third_hz=435e3 + off_hz, beat_hz=85e3 + beat_off_hz)

    outcome = desk.run(fixed_oscillator, task_of("oscillator-third", Phase.AS_FOUND, way))

    figure = error(outcome).figure
    assert figure is not None
    assert abs(figure.value - off_hz) <= 4 * figure.sigma


def test_two_injection_points_that_disagree_are_said_to_with_the_balance() -> None:
    """120 Hz apart: the beat oscillator 60 Hz higher or lower leaves 60 Hz on either side."""
    desk = Desk(third_hz=435e3 + 120.0)

    outcome = desk.run(fixed_oscillator, task_of("oscillator-third", Phase.AS_FOUND, WayName.OFFSET_BEAT))

    (advice,) = outcome.advice
    assert "disagree" in advice
    assert "60 Hz lower halves the error, to 60 Hz on either side" in advice


@pytest.mark.parametrize("way", EACH_WAY)
@pytest.mark.parametrize("step_id", ["beat-oscillator", "oscillator-third"])
def test_an_oscillator_beyond_its_limit_is_turned_within_it(way: WayName, step_id: str) -> None:
    """And the figure as left is in the findings, beside the one as found."""
    desk = Desk(third_hz=435e3 + 400.0, beat_hz=85e3 - 250.0)

    outcome = desk.run(fixed_oscillator, task_of(step_id, Phase.ADJUST, way))

    left_hz = desk.third_now_hz() - 435e3 if step_id == "oscillator-third" else desk.beat_now_hz() - 85e3
    assert abs(left_hz) < 20.0
    assert outcome.verdict is Verdict.LEAVE
    assert any(one.when is Phase.AS_FOUND for one in outcome.findings)
    (turned,) = outcome.turned
    assert turned.turns == pytest.approx(desk.turned[turned.adjuster])


def test_what_is_within_its_limit_is_left_alone() -> None:
    """Nothing is turned, and it is said."""
    desk = Desk(beat_hz=85e3 + 8.0)

    outcome = desk.run(fixed_oscillator, task_of("beat-oscillator", Phase.ADJUST))

    assert not desk.turned
    assert "within its limit as found" in outcome.advice[0]


def test_a_counter_on_another_oscillator_is_noticed_and_put_right() -> None:
    """The person looks, and moves the lead; only then is the error judged, and as what it is."""
    desk = MisledDesk(beat_hz=85e3 + 85.0)

    outcome = desk.run(fixed_oscillator, task_of("beat-oscillator", Phase.AS_FOUND, WayName.COUNT))

    (asked,) = [each for each in desk.asked if each.subject == "count"]
    assert "That is the frequency of the third oscillator." in asked.text
    assert "Check that the counter's lead is at the beat oscillator" in asked.text
    figure = error(outcome).figure
    assert figure is not None
    assert abs(figure.value - 85.0) <= 4 * figure.sigma


@pytest.mark.parametrize(
    ("way", "says"),
    [
        (WayName.COUNT, ["The oscillator was not judged by it."]),
        (WayName.OFFSET_BEAT, ["the counter reads 435", "See that its lead is where the beat is heard"]),
    ],
)
def test_what_stays_absurd_is_no_error_of_the_oscillator(way: WayName, says: list[str]) -> None:
    """A count of another one, or of one where a beat is to be heard: nothing is to be adjusted, no part suspected."""
    desk = MisledDesk(puts_right=False)

    outcome = desk.run(fixed_oscillator, task_of("beat-oscillator", Phase.ADJUST, way))

    (finding,) = outcome.findings
    assert finding.figure is None
    assert all(sentence in (finding.reason or "") for sentence in says)
    assert outcome.verdict is None
    assert not outcome.advice
    assert not desk.turned


@dataclass
class MisledDesk(Desk):
    """The counter's lead is on the third oscillator, whatever was asked, until the person looks."""

    puts_right: bool = True
    looked: bool = False

    def read_frequency(self, gate_s: float) -> MeterReply:
        """Count what the lead is really at."""
        leads = self.leads
        if not self.looked:
            self.leads = {**leads, "counter": "third oscillator"}
        try:
            return super().read_frequency(gate_s)
        finally:
            self.leads = leads

    def answer(self, asked: Asked) -> str:
        """Look where it is asked for."""
        if asked.subject != "count":
            return super().answer(asked)
        self.asked.append(asked)
        self.looked = self.puts_right
        return "count again"


def test_the_pick_up_s_pull_is_measured_and_counted_in() -> None:
    """2 Hz near, 0.5 Hz at twice the distance: 1.5 Hz moved, and no more than that can be left."""
    outcome = Desk().run(fixed_oscillator, task_of("beat-oscillator", Phase.AS_FOUND))

    pull = next(one for one in outcome.findings if one.name == "pull of the pick-up")
    figure = error(outcome).figure
    assert pull.figure is not None
    assert figure is not None
    assert pull.figure.value == pytest.approx(1.5)
    assert 0.5 < figure.sigma < 1.5
    assert outcome.doubts == ()


def test_a_slug_at_the_end_of_its_travel_points_to_a_part() -> None:
    """df/f = -dC/2C: 1000 Hz of 85 kHz is 3.4 % of the capacitance."""
    desk = Desk(beat_hz=85e3 - 1000.0, travel_turns=2.0)

    outcome = desk.run(fixed_oscillator, task_of("beat-oscillator", Phase.ADJUST))

    assert outcome.verdict is Verdict.SUSPECT
    judged = error(outcome).judged
    assert judged is not None
    assert "end of its travel" in judged.text
    assert "more capacitance" in outcome.advice[0]


def test_a_seized_slug_points_to_a_part() -> None:
    """It turns neither way."""
    desk = Desk(beat_hz=85e3 - 400.0, travel_turns=0.0)

    outcome = desk.run(fixed_oscillator, task_of("beat-oscillator", Phase.ADJUST))

    judged = error(outcome).judged
    assert judged is not None
    assert judged.verdict is Verdict.SUSPECT
    assert "cannot be turned" in judged.text
    assert outcome.turned == ()


def test_a_slug_without_effect_points_to_a_part() -> None:
    """A broken core."""
    desk = Desk(beat_hz=85e3 - 400.0, hz_per_turn=0.0)

    outcome = desk.run(fixed_oscillator, task_of("beat-oscillator", Phase.ADJUST))

    assert outcome.verdict is Verdict.SUSPECT
    assert len([one for one in desk.asked if one.action == "turn"]) == 3


def test_what_was_set_in_the_factory_is_never_turned() -> None:
    """The figure is told all the same."""
    desk = Desk(beat_hz=85e3 - 400.0)

    outcome = desk.run(fixed_oscillator, measure_only(task_of("beat-oscillator", Phase.ADJUST)))

    assert not desk.turned
    judged = error(outcome).judged
    assert judged is not None
    assert judged.verdict is Verdict.SUSPECT
    assert "nothing that may be turned moves it" in judged.text


@pytest.mark.parametrize("way", [WayName.COUNT, WayName.OFFSET_BEAT])
def test_a_counter_that_counts_nothing_leaves_a_reason(way: WayName) -> None:
    """And no figure."""
    outcome = Desk(silent=True).run(fixed_oscillator, task_of("beat-oscillator", Phase.AS_FOUND, way))

    found = outcome.findings[-1]
    assert found.figure is None
    assert found.reason
    assert outcome.verdict is None


def test_a_counter_that_says_zero_hertz_has_counted_nothing() -> None:
    """As some do with nothing at their input."""
    outcome = Desk(beat_hz=0.5).run(fixed_oscillator, task_of("beat-oscillator", Phase.ADJUST))

    found = outcome.findings[-1]
    assert found.figure is None
    assert "no steady count" in (found.reason or "")


def test_an_ear_that_hears_nothing_leaves_a_reason() -> None:
    """The volume is down: silent everywhere."""
    outcome = Desk(deaf=True).run(fixed_oscillator, task_of("beat-oscillator", Phase.AS_FOUND, WayName.BY_EAR))

    assert "turn the volume up" in (outcome.findings[-1].reason or "")


def test_the_person_is_asked_what_an_ear_can_tell() -> None:
    """Rose, fell, silent; and not for ever."""
    desk = Desk(beat_hz=85e3 + 333.0)

    desk.run(fixed_oscillator, task_of("beat-oscillator", Phase.AS_FOUND, WayName.BY_EAR))

    questions = [one for one in desk.asked if one.action == "choose"]
    assert len(questions) <= 20
    assert {one.answers for one in questions} == {("rose", "fell", "silent", "again")}
