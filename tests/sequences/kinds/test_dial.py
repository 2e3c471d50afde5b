"""The dial procedure on a receiver written down on paper: errors found, and cured with the least that serves."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Stuck
from sequences.kinds.dial.procedure import dial
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import WayName
from tests.sequences.procedures.tuning_desk import POINTER, SLUG, TRIMMER, TuningDesk, dial_task

LIMIT_KHZ = 1.0
MARKS_KHZ = (0.0, 100.0, 200.0, 300.0, 400.0, 500.0)


def slipped(travel: float) -> float:
    """A pointer that slipped: the same error everywhere, nearly."""
    return -3.0 + 0.4 * travel


def sloping(travel: float) -> float:
    """Coil and trimmer off: more than the pointer can cure."""
    return 5.0 - 8.0 * travel


def bent(travel: float) -> float:
    """Bent plates: right at both ends, far off in between."""
    return 6.0 * travel * (1 - travel) * 4


def errors(outcome: StepOutcome) -> dict[str, Finding]:
    """Give the judged errors by mark."""
    return {
        finding.where: finding for finding in outcome.findings if (finding.name, finding.when) == ("dial error", None)
    }


def figure(outcome: StepOutcome, mark_khz: float) -> Estimate:
    """Give one error, in kHz."""
    found = errors(outcome)[f"{mark_khz:g} kHz"].figure
    assert found is not None
    return found


@pytest.mark.parametrize("way", [WayName.ZERO_BEAT, WayName.PASSBAND_CENTRE])
@pytest.mark.parametrize("shape", [slipped, sloping, bent])
def test_the_errors_as_found_are_those_of_the_receiver(way: WayName, shape: Callable[[float], float]) -> None:
    desk = TuningDesk(shape)

    outcome = desk.run(dial, dial_task(Phase.AS_FOUND, way))

    for mark_khz in MARKS_KHZ:
        found = figure(outcome, mark_khz)
        assert abs(found.value - shape(mark_khz / 500)) < 4 * found.sigma
        assert found.sigma < 0.05
    assert not desk.turns_asked()


def test_a_slipped_pointer_is_slid_and_nothing_else_is_turned() -> None:
    """Common practice, no source."""
    desk = TuningDesk(slipped)

    outcome = desk.run(dial, dial_task(Phase.ADJUST))

    assert desk.turns_asked() == {POINTER}
    assert desk.turned[POINTER] == pytest.approx(-2.8, abs=0.05)
    assert outcome.verdict is Verdict.LEAVE
    assert max(abs(figure(outcome, mark).value) for mark in MARKS_KHZ) < 0.25


def test_the_person_is_told_from_where_to_where_to_slide_it() -> None:
    desk = TuningDesk(slipped)

    desk.run(dial, dial_task(Phase.ADJUST))

    text = next(asked.text for asked in desk.asked if asked.action == "turn")
    assert text == "Hold the dial's shaft and slide the dial pointer from 300 to 297.20 kHz."


def test_a_dial_within_its_limit_is_left_alone() -> None:
    desk = TuningDesk(lambda travel: 0.6 - travel)

    outcome = desk.run(dial, dial_task(Phase.ADJUST))

    assert not desk.turns_asked()
    assert outcome.verdict is Verdict.LEAVE
    assert "leave the pointer and the adjusters alone" in outcome.advice[-1]


@pytest.mark.parametrize("way", [WayName.ZERO_BEAT, WayName.PASSBAND_CENTRE])
def test_a_slope_is_cured_at_both_ends_and_every_mark_comes_home(way: WayName) -> None:
    desk = TuningDesk(sloping)

    outcome = desk.run(dial, dial_task(Phase.ADJUST, way))

    assert {TRIMMER, SLUG} <= desk.turns_asked()
    assert max(abs(desk.error_at(mark)) for mark in MARKS_KHZ) < LIMIT_KHZ
    assert outcome.verdict is Verdict.LEAVE
    assert {turned.adjuster: pytest.approx(turned.turns) for turned in outcome.turned} == desk.turned
    assert any((finding.name, finding.when) == ("dial error", Phase.AS_FOUND) for finding in outcome.findings)


def test_measured_only_it_says_which_adjuster_and_how_much() -> None:
    outcome = TuningDesk(sloping).run(dial, dial_task(Phase.AS_FOUND))

    assert outcome.verdict is Verdict.ADJUST
    advice = " ".join(outcome.advice)
    assert f"Turn {TRIMMER} anticlockwise until it has lowered the low end" in advice
    assert f"Turn {SLUG} clockwise until it has raised the high end" in advice


def test_what_no_adjuster_cures_points_to_a_part() -> None:
    desk = TuningDesk(bent)

    outcome = desk.run(dial, dial_task(Phase.ADJUST))

    assert outcome.verdict is Verdict.SUSPECT
    worst = max(abs(figure(outcome, mark).value) for mark in MARKS_KHZ)
    assert worst < 4.0
    assert len(desk.asked) < 80


@pytest.mark.parametrize(
    ("adjuster", "travel", "why"),
    [(SLUG, (0.0, 0.0), "cannot be turned"), (TRIMMER, (-0.4, 0.4), "end of"), (TRIMMER, (0.0, 6.0), "end of")],
)
def test_an_adjuster_that_will_not_go_on_ends_in_a_suspected_part(
    adjuster: str, travel: tuple[float, float], why: str
) -> None:
    """One that stands at its end goes the other way only, where a seized one goes neither."""
    desk = TuningDesk(sloping, travel_turns={adjuster: travel})

    outcome = desk.run(dial, dial_task(Phase.ADJUST))

    assert outcome.verdict is Verdict.SUSPECT
    assert any(adjuster in sentence and why in sentence for sentence in outcome.advice)
    assert [stuck.how for stuck in outcome.stuck if stuck.adjuster == adjuster] == [
        Stuck.SEIZED if travel == (0.0, 0.0) else Stuck.END_OF_TRAVEL
    ]


def test_what_was_set_in_the_factory_is_never_turned() -> None:
    desk = TuningDesk(sloping)
    task = dial_task(Phase.ADJUST)
    adjusters = tuple(replace(one, measure_only=True) for one in task.step.adjusters)

    outcome = desk.run(dial, replace(task, step=replace(task.step, adjusters=adjusters)))

    assert not desk.turns_asked()
    assert outcome.verdict is Verdict.SUSPECT


def test_a_receiver_that_is_not_there_gives_reasons_and_no_figures() -> None:
    desk = TuningDesk(slipped, gain_v=0.0)

    outcome = desk.run(dial, dial_task(Phase.ADJUST))

    assert outcome.verdict is None
    assert all(one.figure is None and "was not found" in (one.reason or "") for one in errors(outcome).values())
    assert not desk.turns_asked()


def test_a_mark_where_nothing_comes_through_is_left_out_with_its_reason() -> None:
    outcome = TuningDesk(slipped, dead_khz=(390.0, 410.0)).run(dial, dial_task(Phase.AS_FOUND))

    found = errors(outcome)
    assert found["400 kHz"].figure is None
    assert found["400 kHz"].reason is not None
    assert sum(one.figure is not None for one in found.values()) == len(MARKS_KHZ) - 1


def test_a_beat_that_cannot_be_counted_is_said_so() -> None:
    outcome = TuningDesk(slipped, silent=True).run(dial, dial_task(Phase.AS_FOUND))

    assert all("not counted" in (one.reason or "") for one in errors(outcome).values())


def test_a_dial_set_by_eye_widens_every_error_and_is_doubted() -> None:
    """The first mark is set twice, and the difference is what a setting is worth."""
    desk = TuningDesk(slipped, misread_khz=0.5, seed=6)

    outcome = desk.run(dial, dial_task(Phase.AS_FOUND))

    assert figure(outcome, 200.0).sigma > 0.1
    assert any("set again at the end" in doubt for doubt in outcome.doubts)


def test_a_weak_receiver_is_looked_for_louder() -> None:
    desk = TuningDesk(slipped, gain_v=0.05)

    outcome = desk.run(dial, dial_task(Phase.AS_FOUND))

    assert abs(figure(outcome, 0.0).value + 3.0) < 0.05
    assert max(float(value) for name, value in desk.source.calls if name == "power" and value is not None) > -50.0


def test_what_is_asked_has_the_dial_come_from_one_side() -> None:
    desk = TuningDesk(slipped)

    desk.run(dial, dial_task(Phase.AS_FOUND))

    sets = [asked for asked in desk.asked if asked.subject == "dial"]
    assert sets[-1].text == "Set dial exactly to 0 kHz, the last of the turn always upwards."
