"""Crystals on paper: each band's test point against its slug, and what the procedure makes of it."""

from collections.abc import Callable

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.numerics.verdicts.verdict import Verdict
from sequences.procedures.oscillators.crystal_activity import crystal_activity
from tests.sequences.procedures.oscillator_desk import Desk, measure_only, task_of

SLUGS = {
    "3.5": "crystal slug 3.5/5",
    "5": "crystal slug 3.5/5",
    "7": "crystal slug 7/9.5",
    "9.5": "crystal slug 7/9.5",
    "14": "crystal slug 14",
    "21": "crystal slug 21",
    "28": "crystal slug 28",
}

Crystals = dict[str, Callable[[float], float]]


def crystal(best_turns: float = 0.0, peak_v: float = 8.0) -> Callable[[float], float]:
    """Volts against turns: fades slowly one way (anticlockwise), and stops a turn on the other side."""

    def volts(turns: float) -> float:
        off = turns - best_turns
        if off >= 1.0:
            return 0.0
        return -peak_v * (1.0 - off * off) if off > 0.0 else -peak_v / (1.0 + 0.05 * off * off)

    return volts


def desk_with(crystals: Crystals, travel_turns: float = 6.0) -> Desk:
    """A desk whose meter is at the test point."""
    all_bands: Crystals = {band: crystal() for band in SLUGS} | crystals

    def volts(desk: Desk) -> float:
        band = str(desk.controls["band"])
        return all_bands[band](desk.turned.get(SLUGS[band], 0.0))

    return Desk(volts=volts, travel_turns=travel_turns)


def activity(outcome: StepOutcome, band: str) -> Finding:
    """Give a band's finding."""
    return next(one for one in outcome.findings if one.where == band and one.name.startswith("activity"))


def verdict(outcome: StepOutcome, band: str) -> Verdict | None:
    """Give a band's verdict."""
    judged = activity(outcome, band).judged
    return None if judged is None else judged.verdict


def test_every_band_is_held_against_the_reference() -> None:
    """Half the voltage is 6.02 dB less, beyond 6 dB; the reference is zero."""
    outcome = desk_with({"21": crystal(peak_v=4.0), "28": crystal(peak_v=7.0)}).run(
        crystal_activity, task_of("activity-first", Phase.AS_FOUND)
    )

    weak = activity(outcome, "21").figure
    assert weak is not None
    assert weak.value == pytest.approx(-6.02, abs=0.01)
    assert verdict(outcome, "21") in {Verdict.TOUCH_UP, Verdict.ADJUST}
    assert verdict(outcome, "28") is Verdict.LEAVE
    reference = activity(outcome, "14").figure
    assert reference is not None
    assert reference.value == 0.0
    assert "The weakest band is 21" in outcome.advice[-1]


def test_a_band_with_its_own_slug_is_peaked() -> None:
    """It stands 0.9 of a turn too far clockwise, nearly stopped: 14 dB down."""
    desk = desk_with({"21": crystal(best_turns=-0.9)})

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert desk.turned["crystal slug 21"] == pytest.approx(-0.9, abs=0.3)
    assert desk.turned.keys() == {"crystal slug 21"}
    assert verdict(outcome, "21") is Verdict.LEAVE
    left = activity(outcome, "21").figure
    assert left is not None
    assert left.value > -0.3
    (turned,) = outcome.turned
    assert turned.turns == pytest.approx(desk.turned["crystal slug 21"])


def test_a_crystal_that_has_stopped_is_started_again() -> None:
    """Dead as found, without a figure; its slug stands 1.3 turns too far."""
    desk = desk_with({"28": crystal(best_turns=-1.3)})

    found = desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))
    left = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert activity(found, "28").figure is None
    assert verdict(found, "28") is Verdict.ADJUST
    assert "does not oscillate" in (activity(found, "28").reason or "")
    assert verdict(left, "28") is Verdict.LEAVE


def test_a_shared_slug_goes_where_the_worse_band_is_best() -> None:
    """Bests a turn apart, 7 stops first: the compromise lies between, and the table says what each band gives up."""
    bands = {"7": crystal(best_turns=-1.4), "9.5": crystal(best_turns=-0.6)}
    desk = desk_with(bands)

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    def worst(turns: float) -> float:
        return min(-bands[band](turns) for band in bands)

    best = max(worst(step / 100.0) for step in range(-300, 100))
    assert worst(desk.turned["crystal slug 7/9.5"]) > 0.97 * best
    assert {verdict(outcome, band) for band in bands} == {Verdict.LEAVE}
    advice = next(one for one in outcome.advice if "7/9.5" in one)
    assert "band 7 from nothing" in advice
    assert "short of its own best" in advice


def test_a_sibling_that_stays_off_points_to_a_part() -> None:
    """Band 9.5 is right wherever the slug is put for band 7, which is weak."""
    desk = desk_with({"7": crystal(peak_v=3.0)})

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    judged = activity(outcome, "7").judged
    assert judged is not None
    assert judged.verdict is Verdict.SUSPECT
    assert "siblings on the same adjuster are right" in judged.text


def test_a_sibling_that_never_runs_points_to_a_part_and_does_not_spoil_the_other() -> None:
    """The search goes on with the band that runs."""
    desk = desk_with({"3.5": lambda _: 0.0, "5": crystal(best_turns=-0.9)})

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert verdict(outcome, "3.5") is Verdict.SUSPECT
    assert verdict(outcome, "5") is Verdict.LEAVE
    assert desk.turned["crystal slug 3.5/5"] == pytest.approx(-0.9, abs=0.3)


def test_a_weak_crystal_at_its_best_points_to_a_part() -> None:
    """3 V against 8 V is 8.5 dB, and no setting gives more."""
    outcome = desk_with({"21": crystal(peak_v=3.0)}).run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    judged = activity(outcome, "21").judged
    assert judged is not None
    assert judged.verdict is Verdict.SUSPECT
    assert "the best the adjuster reaches is -8.5 dB" in judged.text


def test_a_weak_reference_is_found_out_and_set_first() -> None:
    """14 dB under the middle of the others."""
    desk = desk_with({"14": crystal(best_turns=-0.9)})

    found = desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))
    left = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert verdict(found, "14") is Verdict.ADJUST
    assert verdict(left, "14") is Verdict.LEAVE
    assert desk.turned.keys() == {"crystal slug 14"}


def test_a_reference_that_has_stopped_is_no_yardstick() -> None:
    """The others have a reason instead of a figure, until it runs."""
    desk = desk_with({"14": crystal(best_turns=-1.2)})

    found = desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))
    left = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert activity(found, "7").figure is None
    assert "nothing to compare with" in (activity(found, "7").reason or "")
    assert activity(left, "7").figure is not None
    assert verdict(left, "14") is Verdict.LEAVE


def test_a_seized_slug_points_to_a_part() -> None:
    """It turns neither way."""
    outcome = desk_with({"21": crystal(best_turns=-0.9)}, travel_turns=0.0).run(
        crystal_activity, task_of("activity-first", Phase.ADJUST)
    )

    assert verdict(outcome, "21") is Verdict.SUSPECT
    assert outcome.turned == ()
    assert any("cannot be turned either way" in one for one in outcome.advice)


def test_a_slug_that_comes_to_its_end_is_left_at_its_best_and_a_part_suspected() -> None:
    """The peak lies two turns away and the travel is one turn; at the end the band is still 9 dB down."""
    steep: Crystals = {"28": lambda turns: -8.0 / (1.0 + 2.0 * (turns - 2.0) ** 2)}
    desk = desk_with(steep, travel_turns=1.0)

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert desk.turned["crystal slug 28"] == pytest.approx(1.0, abs=0.15)
    judged = activity(outcome, "28").judged
    assert judged is not None
    assert judged.verdict is Verdict.SUSPECT
    assert "end of its travel" in judged.text


def test_what_is_right_is_left_alone_and_what_is_factory_set_too() -> None:
    """Nothing is turned in either case."""
    right = desk_with({})
    right.run(crystal_activity, task_of("activity-first", Phase.ADJUST))
    fixed = desk_with({"21": crystal(best_turns=-0.9)})
    outcome = fixed.run(crystal_activity, measure_only(task_of("activity-first", Phase.ADJUST)))

    assert not right.turned
    assert not fixed.turned
    assert any("set in the factory" in one for one in outcome.advice)


def test_leads_the_wrong_way_round_are_noticed() -> None:
    """A positive test point is no oscillation."""
    desk = desk_with({"21": lambda _: 8.0})

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))

    assert activity(outcome, "21").figure is None
    assert "leads" in (activity(outcome, "21").reason or "")


def test_a_meter_without_a_reading_leaves_a_reason() -> None:
    """On one band only; the others stand."""
    desk = desk_with({})
    inner = desk.volts
    desk.volts = lambda at: None if at.controls["band"] == "7" else inner(at)

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))

    unread = next(one for one in outcome.findings if one.where == "7")
    assert unread.figure is None
    assert "gave no voltage on band 7" in (unread.reason or "")
    assert verdict(outcome, "28") is Verdict.LEAVE


def test_a_control_is_asked_for_only_where_it_changes() -> None:
    """The dial stands in the middle of every band alike."""
    desk = desk_with({})

    desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))

    asked = [one.subject for one in desk.asked if one.action == "set"]
    assert asked.count("dial") == 1
    assert asked.count("band") == 7
