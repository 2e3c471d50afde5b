"""Crystals on paper: each band's test point against its slug, and what the procedure makes of it."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.engine.events import Asked
from sequences.kinds.crystal_activity.procedure import crystal_activity
from sequences.numerics.verdicts.verdict import Verdict
from tests.sequences.procedures.oscillator_desk import Desk, measure_only, task_of

SLUGS = {
    "4.5": "crystal slug 4.5/6",
    "6": "crystal slug 4.5/6",
    "8.5": "crystal slug 8.5/12",
    "12": "crystal slug 8.5/12",
    "16": "crystal slug 16",
    "19": "crystal slug 19",
    "25.5": "crystal slug 25.5",
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
    outcome = desk_with({"19": crystal(peak_v=4.0), "25.5": crystal(peak_v=7.0)}).run(
        crystal_activity, task_of("activity-first", Phase.AS_FOUND)
    )

    weak = activity(outcome, "19").figure
    assert weak is not None
    assert weak.value == pytest.approx(-6.02, abs=0.01)
    assert verdict(outcome, "19") in {Verdict.TOUCH_UP, Verdict.ADJUST}
    assert verdict(outcome, "25.5") is Verdict.LEAVE
    reference = activity(outcome, "16").figure
    assert reference is not None
    assert reference.value == 0.0
    assert "The weakest band is 19" in outcome.advice[-1]


@dataclass
class ForgetfulDesk(Desk):
    """A person who does not turn the switch to one band, and does so once asked about it."""

    forgets: str = ""
    looked: list[str] = field(default_factory=list)

    def answer(self, asked: Asked) -> str:
        """Do what is asked, or forget it."""
        if asked.action == "choose":
            self.looked.append(asked.text)
            self.controls["band"] = self.forgets
            return asked.answers[0]
        if (asked.subject, asked.detail.get("to")) == ("band", self.forgets):
            return "done"
        return super().answer(asked)


@pytest.mark.parametrize("dead", [None, "16"])
def test_a_band_switch_that_was_forgotten_is_noticed(dead: str | None) -> None:
    """The band after a dead one as well: its crystal is not called dead."""
    volts = {band: -8.0 + 0.3 * place for place, band in enumerate(SLUGS)} | ({dead: 0.0} if dead else {})
    desk = ForgetfulDesk(volts=lambda desk: volts[str(desk.controls["band"])], forgets="19")

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))

    (asked,) = desk.looked
    assert "the same as on band 16. Look: band at 19?" in asked
    read = next(one for one in outcome.findings if (one.where, one.name) == ("19", "test point voltage")).figure
    assert read is not None
    assert read.value == pytest.approx(volts["19"])


def test_a_lead_that_hangs_free_kills_no_crystal() -> None:
    """The person is asked to look; where that changes nothing, no crystal is judged and none is to be adjusted."""
    desk = ForgetfulDesk(volts=lambda _: 0.001)

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    switch, lead = desk.looked
    assert "the same as on band" in switch
    assert "Every band reads nothing. See that the meter's lead is at the" in lead
    assert outcome.verdict is None
    assert not desk.turned
    assert all("no crystal is judged" in (one.reason or "") for one in outcome.findings if one.when is None)


def test_a_band_with_its_own_slug_is_peaked() -> None:
    """It stands 0.9 of a turn too far clockwise, nearly stopped: 14 dB down."""
    desk = desk_with({"19": crystal(best_turns=-0.9)})

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert desk.turned["crystal slug 19"] == pytest.approx(-0.9, abs=0.3)
    assert desk.turned.keys() == {"crystal slug 19"}
    assert verdict(outcome, "19") is Verdict.LEAVE
    left = activity(outcome, "19").figure
    assert left is not None
    assert left.value > -0.3
    (turned,) = outcome.turned
    assert turned.turns == pytest.approx(desk.turned["crystal slug 19"])


def test_a_crystal_that_has_stopped_is_started_again() -> None:
    """Dead as found, without a figure; its slug stands 1.3 turns too far."""
    desk = desk_with({"25.5": crystal(best_turns=-1.3)})

    found = desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))
    left = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert activity(found, "25.5").figure is None
    assert verdict(found, "25.5") is Verdict.ADJUST
    assert "does not oscillate" in (activity(found, "25.5").reason or "")
    assert verdict(left, "25.5") is Verdict.LEAVE


def test_a_shared_slug_goes_where_the_worse_band_is_best() -> None:
    """Bests a turn apart, 8.5 stops first: the compromise lies between, and the table says what each band gives up."""
    bands = {"8.5": crystal(best_turns=-1.4), "12": crystal(best_turns=-0.6)}
    desk = desk_with(bands)

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    def worst(turns: float) -> float:
        return min(-bands[band](turns) for band in bands)

    best = max(worst(step / 100.0) for step in range(-300, 100))
    assert worst(desk.turned["crystal slug 8.5/12"]) > 0.97 * best
    assert {verdict(outcome, band) for band in bands} == {Verdict.LEAVE}
    advice = next(one for one in outcome.advice if "8.5/12" in one)
    assert "band 8.5 from nothing" in advice
    assert "short of its own best" in advice


def test_a_sibling_that_stays_off_points_to_a_part() -> None:
    """Band 12 is right wherever the slug is put for band 8.5, which is weak."""
    desk = desk_with({"8.5": crystal(peak_v=3.0)})

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    judged = activity(outcome, "8.5").judged
    assert judged is not None
    assert judged.verdict is Verdict.SUSPECT
    assert "siblings on the same adjuster are right" in judged.text


def test_a_sibling_that_never_runs_points_to_a_part_and_does_not_spoil_the_other() -> None:
    """The search goes on with the band that runs."""
    desk = desk_with({"4.5": lambda _: 0.0, "6": crystal(best_turns=-0.9)})

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert verdict(outcome, "4.5") is Verdict.SUSPECT
    assert verdict(outcome, "6") is Verdict.LEAVE
    assert desk.turned["crystal slug 4.5/6"] == pytest.approx(-0.9, abs=0.3)


def test_a_weak_crystal_at_its_best_points_to_a_part() -> None:
    """3 V against 8 V is 8.5 dB, and no setting gives more."""
    outcome = desk_with({"19": crystal(peak_v=3.0)}).run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    judged = activity(outcome, "19").judged
    assert judged is not None
    assert judged.verdict is Verdict.SUSPECT
    assert "the best the adjuster reaches is -8.5 dB" in judged.text


def test_a_weak_reference_is_found_out_and_set_first() -> None:
    """14 dB under the middle of the others."""
    desk = desk_with({"16": crystal(best_turns=-0.9)})

    found = desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))
    left = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert verdict(found, "16") is Verdict.ADJUST
    assert verdict(left, "16") is Verdict.LEAVE
    assert desk.turned.keys() == {"crystal slug 16"}


def test_a_reference_that_has_stopped_is_no_yardstick() -> None:
    """The others have a reason instead of a figure, until it runs."""
    desk = desk_with({"16": crystal(best_turns=-1.2)})

    found = desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))
    left = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert activity(found, "8.5").figure is None
    assert "nothing to compare with" in (activity(found, "8.5").reason or "")
    assert activity(left, "8.5").figure is not None
    assert verdict(left, "16") is Verdict.LEAVE


def test_a_seized_slug_points_to_a_part() -> None:
    """It turns neither way."""
    outcome = desk_with({"19": crystal(best_turns=-0.9)}, travel_turns=0.0).run(
        crystal_activity, task_of("activity-first", Phase.ADJUST)
    )

    assert verdict(outcome, "19") is Verdict.SUSPECT
    assert outcome.turned == ()
    assert any("cannot be turned either way" in one for one in outcome.advice)


def test_a_slug_that_comes_to_its_end_is_left_at_its_best_and_a_part_suspected() -> None:
    """The peak lies two turns away and the travel is one turn; at the end the band is still 9 dB down."""
    steep: Crystals = {"25.5": lambda turns: -8.0 / (1.0 + 2.0 * (turns - 2.0) ** 2)}
    desk = desk_with(steep, travel_turns=1.0)

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.ADJUST))

    assert desk.turned["crystal slug 25.5"] == pytest.approx(1.0, abs=0.15)
    judged = activity(outcome, "25.5").judged
    assert judged is not None
    assert judged.verdict is Verdict.SUSPECT
    assert "end of its travel" in judged.text


def test_what_is_right_is_left_alone_and_what_is_factory_set_too() -> None:
    """Nothing is turned in either case."""
    right = desk_with({})
    right.run(crystal_activity, task_of("activity-first", Phase.ADJUST))
    fixed = desk_with({"19": crystal(best_turns=-0.9)})
    outcome = fixed.run(crystal_activity, measure_only(task_of("activity-first", Phase.ADJUST)))

    assert not right.turned
    assert not fixed.turned
    assert any("set in the factory" in one for one in outcome.advice)


def test_leads_the_wrong_way_round_are_noticed() -> None:
    """A positive test point is no oscillation."""
    desk = desk_with({"19": lambda _: 8.0})

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))

    assert activity(outcome, "19").figure is None
    assert "leads" in (activity(outcome, "19").reason or "")


def test_a_meter_without_a_reading_leaves_a_reason() -> None:
    """On one band only; the others stand."""
    desk = desk_with({})
    inner = desk.volts
    desk.volts = lambda at: None if at.controls["band"] == "8.5" else inner(at)

    outcome = desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))

    unread = next(one for one in outcome.findings if one.where == "8.5")
    assert unread.figure is None
    assert "gave no voltage on band 8.5" in (unread.reason or "")
    assert verdict(outcome, "25.5") is Verdict.LEAVE


def test_a_control_is_asked_for_only_where_it_changes() -> None:
    """The dial stands in the middle of every band alike."""
    desk = desk_with({})

    desk.run(crystal_activity, task_of("activity-first", Phase.AS_FOUND))

    asked = [one.subject for one in desk.asked if one.action == "set"]
    assert asked.count("dial") == 1
    assert asked.count("band") == 7


def test_where_the_test_point_rests_at_a_voltage_the_difference_to_it_is_what_counts() -> None:
    """A point that rests at 5 V and falls as a crystal runs: read as it is, every band seems the wrong way round."""
    crystals = {band: crystal() for band in SLUGS} | {"19": crystal(peak_v=4.0)}

    def volts(desk: Desk) -> float:
        return 5.0 + (0.0 if desk.controls.get("agc") == "slow" else crystals[str(desk.controls["band"])](0.0))

    task = task_of("activity-first", Phase.AS_FOUND)
    entry = task.receiver.conversions["first"].model_copy(update={"activity_rest_controls": {"agc": "slow"}})
    conversions = {**task.receiver.conversions, "first": entry}
    task = replace(task, receiver=task.receiver.model_copy(update={"conversions": conversions}))

    outcome = Desk(volts=volts).run(crystal_activity, task)

    read = {one.where: one.figure for one in outcome.findings if one.name == "test point voltage"}
    assert {band: figure and round(figure.value, 6) for band, figure in read.items()} == {
        band: -4.0 if band == "19" else -8.0 for band in SLUGS
    }
    weak = activity(outcome, "19").figure
    assert weak is not None
    assert weak.value == pytest.approx(-6.02, abs=0.01)
    assert "rests at 5" in outcome.advice[0]
