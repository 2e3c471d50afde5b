"""The preselector procedure on circuits written down on paper: figures found, trimmers peaked, parts suspected."""

import math
from dataclasses import replace

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.kinds.preselector.procedure import preselector
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import WayName
from tests.sequences.procedures.preselector_desk import ANTENNA, MIXER, QUALITY, PreselectorDesk, preselector_task

BANDS = tuple(QUALITY)


def on_bands(task: Task, *bands: str) -> Task:
    """Look at some bands only."""
    pairs = [
        (spot, target) for spot, target in zip(task.step.spots, task.step.targets, strict=True) if spot.band in bands
    ]
    spots, targets = zip(*pairs, strict=True)
    return replace(task, step=replace(task.step, spots=spots, targets=targets))


def finding(outcome: StepOutcome, name: str, band: str) -> Finding:
    """Give a figure of a band, as it is now."""
    return next(
        one
        for one in outcome.findings
        if (one.name, one.when) == (name, None) and one.where.startswith(f"band {band},")
    )


def figure(outcome: StepOutcome, name: str, band: str) -> Estimate:
    """Give its value."""
    found = finding(outcome, name, band).figure
    assert found is not None
    return found


@pytest.mark.parametrize("way", [WayName.PROBE, WayName.THROUGH_RECEIVER])
def test_centre_width_and_loaded_q_are_those_of_the_circuits(way: WayName) -> None:
    """Two equal circuits: exact edges f2 - f1 = f0 / Q sqrt(sqrt(2) - 1), f1 f2 = f0^2."""
    desk = PreselectorDesk()

    outcome = desk.run(preselector, on_bands(preselector_task(Phase.AS_FOUND, way), "4.5", "16"))

    for band in ("4.5", "16"):
        f0_hz = (float(band) + 0.25) * 1e6
        width_hz = f0_hz / QUALITY[band] * math.sqrt(math.sqrt(2) - 1)
        centre_hz = f0_hz + width_hz**2 / (8 * f0_hz)
        centre, width, q = (figure(outcome, name, band) for name in ("centre", "3 dB width", "loaded Q"))
        assert abs(centre.value - centre_hz / 1e3) < 4 * centre.sigma
        assert width.value == pytest.approx(width_hz / 1e3, rel=0.04)
        assert q.value == pytest.approx(QUALITY[band], rel=0.05)
        assert abs(figure(outcome, "knob pointer error", band).value) < 0.05
    assert outcome.verdict is Verdict.LEAVE
    assert not desk.turns_asked()


@pytest.mark.parametrize("way", [WayName.PROBE, WayName.THROUGH_RECEIVER])
def test_a_knob_that_slipped_shows_as_its_pointer_s_error(way: WayName) -> None:
    """0.6 marks too high on its shaft: it peaks where it reads 0.6 less."""
    desk = PreselectorDesk(knob_off_marks=0.6)

    outcome = desk.run(preselector, on_bands(preselector_task(Phase.AS_FOUND, way), "8.5", "12"))

    for band in ("8.5", "12"):
        assert figure(outcome, "knob pointer error", band).value == pytest.approx(-0.6, abs=0.05)
        assert abs(figure(outcome, "centre error", band).value) < 10.0


def test_a_knob_that_slipped_on_every_band_is_turned_on_its_shaft() -> None:
    desk = PreselectorDesk(knob_off_marks=0.6)

    outcome = desk.run(preselector, on_bands(preselector_task(Phase.AS_LEFT), "4.5", "6", "8.5"))

    assert any("turn it on its shaft so that it reads 0.6 higher" in sentence for sentence in outcome.advice)
    assert outcome.verdict is not Verdict.SUSPECT


def test_trimmers_are_peaked_on_the_highest_band_and_the_others_come_right() -> None:
    desk = PreselectorDesk(off_turns={ANTENNA: 0.9, MIXER: -0.6})

    outcome = desk.run(preselector, preselector_task(Phase.ADJUST))

    assert outcome.verdict is Verdict.LEAVE
    assert desk.turns_asked() == {ANTENNA, MIXER}
    assert abs(desk.turned[ANTENNA] + 0.9) < 0.1
    assert abs(desk.turned[MIXER] - 0.6) < 0.1
    first_turn = next(index for index, asked in enumerate(desk.asked) if asked.action == "turn")
    band = [asked.detail["to"] for asked in desk.asked[:first_turn] if asked.subject == "band"][-1]
    assert band == "25.5"
    assert any(one.when is Phase.AS_FOUND for one in outcome.findings)


def test_trimmers_that_are_right_are_not_touched() -> None:
    desk = PreselectorDesk(off_turns={ANTENNA: 0.05, MIXER: -0.05})

    outcome = desk.run(preselector, preselector_task(Phase.ADJUST))

    assert not desk.turns_asked()
    assert outcome.verdict is Verdict.LEAVE


def test_a_band_that_stays_off_while_its_siblings_are_right_has_a_part_of_its_own_to_blame() -> None:
    """df/f = -dC/2C: 3 % more capacitance in one of the two circuits."""
    desk = PreselectorDesk(off_turns={ANTENNA: 0.5}, drifted={"16": 0.03})

    outcome = desk.run(preselector, preselector_task(Phase.ADJUST))

    assert outcome.verdict is Verdict.SUSPECT
    suspects = [one for one in outcome.findings if one.judged and one.judged.verdict is Verdict.SUSPECT]
    suspected = {one.where.partition(",")[0] for one in suspects}
    assert suspected == {"band 16"}
    text = " ".join(outcome.advice)
    assert "suspect a part of this band alone" in text
    share = float(text.split("as if it had ")[1].split(" ")[0])
    assert share == pytest.approx(3.0, abs=0.4)


def test_a_bad_part_in_the_very_band_first_adjusted_on_is_found_out() -> None:
    """Peaked there, the trimmers would make all the others wrong; so they are peaked on the next one."""
    desk = PreselectorDesk(drifted={"25.5": 0.04})

    outcome = desk.run(preselector, preselector_task(Phase.ADJUST))

    assert outcome.verdict is Verdict.SUSPECT
    suspects = [one for one in outcome.findings if one.judged and one.judged.verdict is Verdict.SUSPECT]
    suspected = {one.where.partition(",")[0] for one in suspects}
    assert suspected == {"band 25.5"}
    assert abs(desk.turned[MIXER]) < 0.2


def test_what_was_set_in_the_factory_is_never_turned() -> None:
    desk = PreselectorDesk(off_turns={ANTENNA: 1.5, MIXER: 1.5})
    task = on_bands(preselector_task(Phase.ADJUST), "19", "25.5")
    adjusters = tuple(replace(one, measure_only=True) for one in task.step.adjusters)

    outcome = desk.run(preselector, replace(task, step=replace(task.step, adjusters=adjusters)))

    assert not desk.turns_asked()
    assert outcome.verdict is Verdict.SUSPECT


def test_a_trimmer_at_the_end_of_its_travel_is_said_so() -> None:
    desk = PreselectorDesk(off_turns={ANTENNA: 1.5}, travel_turns=0.6)

    outcome = desk.run(preselector, on_bands(preselector_task(Phase.ADJUST), "19", "25.5"))

    assert outcome.verdict is Verdict.SUSPECT
    assert any(ANTENNA in sentence and "end of its travel" in sentence for sentence in outcome.advice)


@pytest.mark.parametrize("way", [WayName.PROBE, WayName.THROUGH_RECEIVER])
def test_a_band_where_nothing_arrives_gives_a_reason_and_the_others_their_figures(way: WayName) -> None:
    desk = PreselectorDesk(dead_band="16")

    outcome = desk.run(preselector, on_bands(preselector_task(Phase.AS_FOUND, way), "12", "16", "19"))

    assert finding(outcome, "centre", "16").figure is None
    assert "check the leads" in (finding(outcome, "centre", "16").reason or "")
    assert finding(outcome, "centre", "12").figure is not None
    assert finding(outcome, "centre", "19").figure is not None


def test_a_band_that_could_not_be_measured_is_no_reason_to_turn_anything() -> None:
    desk = PreselectorDesk(dead_band="16")

    desk.run(preselector, on_bands(preselector_task(Phase.ADJUST), "12", "16", "19"))

    assert not desk.turns_asked()


def test_through_the_receiver_a_dial_that_errs_does_no_harm() -> None:
    """The source finds the window wherever it is."""
    desk = PreselectorDesk(dial_off_khz=7.3)

    outcome = desk.run(preselector, on_bands(preselector_task(Phase.AS_FOUND, WayName.THROUGH_RECEIVER), "8.5"))

    centre = figure(outcome, "centre", "8.5")
    assert abs(centre.value - 8750.3) < max(4 * centre.sigma, 1.0)


def test_through_the_receiver_a_ganged_preselector_is_refused_a_response_and_told_why() -> None:
    """Retuning the receiver would move what is to be seen."""
    task = on_bands(preselector_task(Phase.AS_FOUND, WayName.THROUGH_RECEIVER), "8.5")
    ganged = task.receiver.preselector.model_copy(update={"tuned_by": "gang", "control": None})
    task = replace(task, receiver=task.receiver.model_copy(update={"preselector": ganged}))

    outcome = PreselectorDesk().run(preselector, task)

    assert "ganged with the dial" in (finding(outcome, "centre", "8.5").reason or "")
    assert outcome.verdict is None


def test_controls_that_stand_right_are_not_asked_for_again() -> None:
    desk = PreselectorDesk()

    desk.run(preselector, preselector_task(Phase.AS_FOUND))

    assert sum(asked.subject == "dial" for asked in desk.asked) == 1
    assert [asked.detail["to"] for asked in desk.asked if asked.subject == "band"] == list(BANDS)
