"""The alignment plan: its order, what each step says, and what must be right before it."""

import pytest
from hypothesis import given

from sequences.kinds import alignment_plan
from sequences.plan.content import WayName
from sequences.plan.order import Plan
from sequences.plan.text import step_paragraphs
from sequences.receiver.chain import ifs_in_order
from sequences.receiver.model import Receiver
from tests.sequences.receiver_files import made_up, made_up_receivers, put, shipped, shipped_tables


def place_of(plan: Plan) -> dict[str, int]:
    """Give each step's place in the order."""
    return {step.id: place for place, step in enumerate(plan.steps)}


def test_skerry_7_goes_from_the_last_oscillator_and_the_last_if_to_the_antenna() -> None:
    """Lowest IF first in a receiver of several conversions, detector back to aerial.

    Source of the order: Rider, On Resonance and Alignment (1936), chapters IV to VI; warm-up before all, and symmetry
    of the passband control once beat oscillator and passband are right, are common practice, no source.
    """
    assert [step.id for step in alignment_plan(shipped("skerry-7")).steps] == [
        "warm-up",
        "beat-oscillator",
        "passband-third",
        "passband-symmetry",
        "oscillator-third",
        "filter-t2",
        "filter-t1",
        "dial-second",
        "filter-tunable-if-circuit",
        "activity-first",
        "preselector",
        "gain-control",
        "half-if-rejection",
        "if-rejection",
        "image-rejection",
        "selectivity",
        "sensitivity",
    ]


def test_millrace_5_goes_from_its_last_can_by_the_dial_to_the_antenna() -> None:
    """Last IF stage, earlier stages, oscillator, RF: Rider, On Resonance and Alignment (1936), chapters IV to VI."""
    assert [step.id for step in alignment_plan(shipped("millrace-5")).steps] == [
        "warm-up",
        "filter-can-2",
        "filter-can-1",
        "passband-main",
        "dial-first",
        "preselector",
        "gain-control",
        "half-if-rejection",
        "if-rejection",
        "image-rejection",
        "selectivity",
        "sensitivity",
        "signal-meter",
    ]


@given(made_up_receivers())
def test_no_step_comes_before_one_it_depends_on(receiver: Receiver) -> None:
    """Whatever the receiver, and whatever access it lacks."""
    plan = alignment_plan(receiver)
    places = place_of(plan)

    assert all(places[other] < places[step.id] for step in plan.steps for other in step.depends_on)


@given(made_up_receivers())
def test_no_step_comes_before_one_nearer_the_detector(receiver: Receiver) -> None:
    """The order of places, checked against the signal's path and not against the dependencies."""
    order = ifs_in_order(receiver)
    places: list[int] = []
    for step in alignment_plan(receiver).steps[1:]:
        table, _, key = step.subject.partition(".")
        if table == "conversion":
            places.append(2 * order.index(receiver.conversions[key].gives))
        elif table == "filter":
            places.append(2 * order.index(receiver.filters[key].intermediate) + 1)
        elif table == "if":
            places.append(2 * order.index(key) + 1)
        else:
            places.append(-1 if table == "preselector" else 2 * len(order) - 1)

    assert places == sorted(places, reverse=True)


@given(made_up_receivers())
def test_warm_up_comes_first_and_the_antenna_last(receiver: Receiver) -> None:
    """Every other step rests on a warm receiver."""
    plan = alignment_plan(receiver)

    assert plan.steps[0].kind == "warm-up"
    assert all("warm-up" in step.depends_on for step in plan.steps[1:])
    assert "preselector" not in [step.kind for step in plan.steps[:-1]]


@given(made_up_receivers())
def test_every_step_can_be_hooked_up_and_says_what_good_is(receiver: Receiver) -> None:
    """Points and controls are the receiver's own; a limit is always there to hold the figure against."""
    for step in alignment_plan(receiver).steps:
        assert step.ways
        assert step.limits
        for way in step.ways:
            assert way.hookup.source_to is None or way.hookup.source_to in receiver.source_points
            assert way.hookup.meter_to is None or way.hookup.meter_to in receiver.meter_points
            assert way.hookup.counter_to is None or way.hookup.counter_to in receiver.counter_points
            assert set(way.hookup.controls) <= set(receiver.controls)


@given(made_up_receivers())
def test_cans_of_one_if_are_done_from_the_last(receiver: Receiver) -> None:
    """Each is isolated by the injection point nearest before it: common practice, no source."""
    places = place_of(alignment_plan(receiver))
    for key in receiver.ifs:
        own = [
            f"filter-{name.replace(' ', '-').replace('.', '-')}"
            for name, entry in receiver.filters.items()
            if entry.intermediate == key
        ]
        present = [places[step] for step in own if step in places]
        assert present == sorted(present, reverse=True)


def test_a_can_behind_a_narrower_window_is_stepped_and_fitted_with_the_reason() -> None:
    """A sweep of the source would show the window: the naive mistake, named."""
    for can in ("filter-t1", "filter-t2"):
        step = alignment_plan(shipped("skerry-7")).step(can)
        (way,) = step.ways
        assert way.name is WayName.STEP_AND_FIT
        assert "11.2 kHz wide, it is seen through the third IF of 3.2 kHz" in way.because
        assert (way.hookup.source_to, way.hookup.meter_to) == ("second mixer", "detector")
        assert way.hookup.controls["selectivity"] == "3.2 kHz"
        assert step.nominal_khz == 520.0


def test_the_last_can_of_the_millrace_5_is_balanced_by_its_edges_from_the_if_grid() -> None:
    """Nothing stands after it, so its own edges show; the can before it is fed from the converter."""
    plan = alignment_plan(shipped("millrace-5"))

    assert plan.step("filter-can-2").ways[0].name is WayName.EDGE_BALANCE
    assert plan.step("filter-can-2").ways[0].hookup.source_to == "IF grid"
    assert plan.step("filter-can-1").ways[0].hookup.source_to == "converter grid"
    assert "filter-can-2" in plan.step("filter-can-1").depends_on


def test_an_over_coupled_can_is_balanced_and_not_peaked() -> None:
    """Peaking by meter ends on one hump: Rider, On Resonance and Alignment (1936), page 60."""
    tables = put(shipped_tables("millrace-5"), "filter/can 2/coupling", "over-coupled")
    step = alignment_plan(Receiver.model_validate(tables)).step("filter-can-2")

    assert step.ways[0].name is WayName.HUMP_BALANCE
    assert "two humps" in step.ways[0].because


def test_what_was_set_in_the_factory_is_measured_and_marked_so() -> None:
    """The input filter is seen with the passband after it, and nobody is told to turn its slugs."""
    step = alignment_plan(shipped("skerry-7")).step("passband-third")

    assert [(one.name, one.measure_only) for one in step.adjusters] == [(f"L{n}", True) for n in (1, 2, 3, 4)]
    assert len(step.targets) == 3
    lines = [line for part in step_paragraphs(step, step.ways[0]) if part.heading == "Adjusters" for line in part.lines]
    assert lines[0] == "L1 (slug): measure only, set in the factory, do not turn."


def test_a_can_nobody_may_turn_has_no_step_of_its_own() -> None:
    """It is measured with its IF."""
    tables = shipped_tables("millrace-5")
    for slug in ("can 1 primary", "can 1 secondary"):
        tables = put(tables, f"adjuster/{slug}/factory_only", True)
    plan = alignment_plan(Receiver.model_validate(tables))

    assert "filter-can-1" not in [step.id for step in plan.steps]
    assert [one.name for one in plan.step("passband-main").adjusters if one.measure_only] == [
        "can 1 primary",
        "can 1 secondary",
    ]


def test_symmetry_waits_for_the_oscillator_and_the_passband_it_is_measured_by() -> None:
    """Refused until both are within limits."""
    plan = alignment_plan(shipped("skerry-7"))

    waiting = [step.id for step in plan.waits_for("passband-symmetry", {"warm-up", "passband-third"})]
    assert waiting == ["beat-oscillator"]
    assert plan.waits_for("passband-symmetry", {"warm-up", "passband-third", "beat-oscillator"}) == ()


def test_symmetry_is_measured_against_the_beat_oscillator_counted_or_heard() -> None:
    """The passband's edges need source and meter; the beat oscillator a counter, or an ear."""
    ways = alignment_plan(shipped("skerry-7")).step("passband-symmetry").ways

    assert [(way.name, way.hookup.counter_to) for way in ways] == [
        (WayName.EDGE_BEAT, "beat oscillator"),
        (WayName.BY_EAR, None),
    ]
    assert {(way.hookup.source_to, way.hookup.meter_to) for way in ways} == {("third mixer", "detector")}


def test_beat_oscillator_can_be_counted_beaten_against_the_source_or_heard() -> None:
    """Three hookups; the source enters as near the last IF as there is a point."""
    ways = alignment_plan(shipped("skerry-7")).step("beat-oscillator").ways

    assert [way.name for way in ways] == [WayName.COUNT, WayName.OFFSET_BEAT, WayName.BY_EAR]
    assert [(way.hookup.source_to, way.hookup.counter_to) for way in ways] == [
        (None, "beat oscillator"),
        ("third mixer", "audio"),
        ("third mixer", None),
    ]
    assert all(way.hookup.controls["beat oscillator"] == "on" for way in ways)


def test_the_third_oscillator_is_beaten_through_its_own_mixer() -> None:
    """520 kHz in, 85 kHz out: what the beat is off by is the oscillator's error."""
    step = alignment_plan(shipped("skerry-7")).step("oscillator-third")

    assert step.nominal_khz == 435.0
    assert [spot.source_khz for spot in step.spots] == [520.0]
    assert {"beat-oscillator", "passband-third"} <= set(step.depends_on)


def test_dial_of_the_skerry_7_is_checked_behind_the_crystals_on_one_band() -> None:
    """The tunable IF is the same on every band, and runs against the dial.

    So the oscillator is highest, and its trimmer counts most, at the dial's low end: a trimmer adds the same few
    picofarads everywhere, the larger share where the tuning capacitor is smallest: common practice, no source.
    """
    step = alignment_plan(shipped("skerry-7")).step("dial-second")

    assert [(spot.dial_khz, spot.source_khz) for spot in step.spots] == [
        (0.0, 3400.0),
        (100.0, 3300.0),
        (200.0, 3200.0),
        (300.0, 3100.0),
        (400.0, 3000.0),
        (500.0, 2900.0),
    ]
    assert {spot.band for spot in step.spots} == {"4.5"}
    assert step.ways[0].hookup.source_to == "second mixer"
    assert [(one.name, one.end) for one in step.adjusters] == [
        ("tunable oscillator trimmer", "low"),
        ("tunable oscillator slug", "high"),
        ("dial pointer", None),
    ]


def test_dial_of_the_millrace_5_is_checked_at_the_signal_itself() -> None:
    """One conversion: the source is set to each mark."""
    step = alignment_plan(shipped("millrace-5")).step("dial-first")

    assert [(spot.dial_khz, spot.source_khz) for spot in step.spots] == [
        (mark, mark) for mark in (600.0, 800.0, 1000.0, 1200.0, 1400.0)
    ]
    assert step.ways[0].name is WayName.PASSBAND_CENTRE


def test_crystal_activity_is_read_on_every_band_with_shared_slugs_named() -> None:
    """A slug that serves two bands is a compromise, so the step says which bands it serves."""
    step = alignment_plan(shipped("skerry-7")).step("activity-first")

    assert [spot.band for spot in step.spots] == ["4.5", "6", "8.5", "12", "16", "19", "25.5"]
    assert {one.name: one.bands for one in step.adjusters}["crystal slug 4.5/6"] == ("4.5", "6")
    assert "more negative means stronger oscillation" in step.ways[0].because


def test_preselector_can_be_probed_or_seen_through_the_receiver() -> None:
    """With a probe it is automatic; without, the person retunes and the source finds the window."""
    step = alignment_plan(shipped("skerry-7")).step("preselector")

    assert [(way.name, way.hookup.meter_to) for way in step.ways] == [
        (WayName.PROBE, "mixer probe"),
        (WayName.THROUGH_RECEIVER, "detector"),
    ]
    assert [spot.knob_mark for spot in step.spots] == [5.0] * 7
    assert len(step.targets) == 7


def test_without_any_counting_point_the_warm_up_is_a_wait() -> None:
    """A receiver nobody can count is given the longest time."""
    tables = shipped_tables("millrace-5")
    del tables["counter_point"]
    step = alignment_plan(Receiver.model_validate(tables)).step("warm-up")

    assert step.ways[0].name is WayName.WAIT
    assert step.ways[0].measured == "nothing: wait 45 minutes"


@pytest.mark.parametrize("receiver_id", ["skerry-7", "millrace-5"])
def test_every_step_is_written_out_with_cautions_leads_and_what_good_is(receiver_id: str) -> None:
    """The same words go to page, terminal and paper."""
    for step in alignment_plan(shipped(receiver_id)).steps:
        for way in step.ways:
            parts = {part.heading: part.lines for part in step_paragraphs(step, way)}
            assert next(iter(parts)) == "Danger"
            assert "Leads" in parts
            assert parts["Good"][0].startswith("Good is: ")


def test_a_receiver_without_access_still_has_a_plan() -> None:
    """Steps that cannot be hooked up are left out, and nothing depends on them."""
    tables = made_up([9000.0, 455.0], ["high", "low"])
    tables["source_point"] = {"antenna": tables["source_point"]["antenna"]}
    plan = alignment_plan(Receiver.model_validate(tables))

    assert [step.id for step in plan.steps] == ["warm-up", "dial-c0", "preselector"]
    assert plan.step("dial-c0").depends_on == ("warm-up",)
