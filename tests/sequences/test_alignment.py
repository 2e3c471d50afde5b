"""Where an alignment stands, what comes next, and what is proposed: no instrument, no person."""

from dataclasses import replace
from functools import reduce

import pytest

from sequences.alignment.advice import decide, order_of, to_be_told, ways_at_hand
from sequences.alignment.drift import drift_since, drift_warnings
from sequences.alignment.outcome import Finding, Phase, StepOutcome, Stuck, StuckAdjuster, Turned
from sequences.alignment.progress import (
    Choice,
    Ending,
    Note,
    Progress,
    StepBegun,
    StepDecided,
    StepLeft,
    StepMeasured,
    next_phase,
    next_step,
    noted,
    undone_by,
)
from sequences.kinds import alignment_plan
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Judged, Signs, Verdict, judge_error, suspect_without_figure
from sequences.numerics.wording import in_unit
from sequences.plan.content import Oscillator, WayName
from tests.quantities import called
from tests.sequences.receiver_files import shipped

SKERRY = shipped("skerry-7")
PLAN = alignment_plan(SKERRY)


def judged(error: float, limit: float = 20.0) -> Judged:
    """Judge an error in Hz."""
    return judge_error("The error", Estimate(error, 1.0), limit, in_unit("Hz"))


def outcome(step_id: str, phase: Phase, verdict: Judged | None, *, turned: bool = False) -> StepOutcome:
    """Make up what a run came to."""
    finding = Finding(
        called("frequency error", "Hz"), "", None if verdict is None else verdict.figure, verdict, "Why not."
    )
    return StepOutcome(step_id, phase, (finding,), (Turned("slug", 0.5),) if turned else ())


def measured(step_id: str, verdict: Judged | None, phase: Phase = Phase.AS_FOUND, *, turned: bool = False) -> Note:
    """Note a run."""
    return StepMeasured(outcome(step_id, phase, verdict, turned=turned), at_s=0.0)


def done(step_id: str, verdict: Judged | None = None) -> list[Note]:
    """Note a step that was measured as found, within its limits if nothing else is said, and left."""
    way = PLAN.step(step_id).ways[0].name
    return [
        StepBegun(step_id, way),
        measured(step_id, verdict or judged(0.0)),
        StepDecided(step_id, Choice.LEAVE),
    ]


def adjusted(step_id: str, verdict: Judged) -> list[Note]:
    """Note a step that was adjusted and then stood so."""
    return [
        StepBegun(step_id, PLAN.step(step_id).ways[0].name),
        measured(step_id, judged(500.0)),
        StepDecided(step_id, Choice.ADJUST),
        measured(step_id, verdict, Phase.ADJUST, turned=True),
        measured(step_id, verdict, Phase.AS_LEFT),
        StepDecided(step_id, Choice.LEAVE),
    ]


def after(*notes: Note) -> Progress:
    """Give the progress that these notes make."""
    return reduce(noted, notes, Progress(SKERRY.id))


def test_an_alignment_visits_every_step_in_the_order_of_the_plan() -> None:
    progress = after()
    visited = []
    while (step := next_step(PLAN, progress)) is not None:
        visited.append(step.id)
        progress = reduce(noted, done(step.id), progress)

    assert visited == [step.id for step in PLAN.steps]
    assert progress.within_limits() == set(visited)


def test_a_step_off_its_limit_is_found_adjusted_and_measured_as_left() -> None:
    notes = adjusted("beat-oscillator", judged(1.0))
    phases = []
    progress = Progress(SKERRY.id)
    for note in notes:
        progress = noted(progress, note)
        if progress.current is not None:
            phases.append(next_phase(progress.current))

    assert phases == [Phase.AS_FOUND, None, Phase.ADJUST, Phase.AS_LEFT, None]
    record = progress.record("beat-oscillator")
    assert record is not None
    assert (record.ending, record.adjusted) == (Ending.GOOD, True)


@pytest.mark.parametrize(
    ("error", "proposal"),
    [(0.0, Choice.LEAVE), (30.0, Choice.ADJUST), (500.0, Choice.ADJUST)],
    ids=["within", "a touch", "far off"],
)
def test_the_verdict_as_found_decides_what_is_proposed(error: float, proposal: Choice) -> None:
    step = PLAN.step("beat-oscillator")
    record = after(StepBegun(step.id, WayName.COUNT), measured(step.id, judged(error))).current
    assert record is not None

    decision = decide(step, record)

    assert decision.proposal is proposal
    assert judged(error).text in decision.reason


def test_where_all_is_good_there_is_nothing_to_decide() -> None:
    step = PLAN.step("beat-oscillator")
    record = after(StepBegun(step.id, WayName.COUNT), measured(step.id, judged(0.0))).current
    assert record is not None

    assert decide(step, record).choices == (Choice.LEAVE,)


def test_a_suspected_part_is_left_and_not_turned_at() -> None:
    step = PLAN.step("beat-oscillator")
    suspicion = suspect_without_figure("The error", 20.0, Signs(seized=True))
    record = after(StepBegun(step.id, WayName.COUNT), measured(step.id, suspicion)).current
    assert record is not None

    assert decide(step, record).proposal is Choice.LEAVE
    assert record.ending is Ending.SUSPECT


def test_what_shows_only_by_turning_is_proposed_to_be_adjusted() -> None:
    step = PLAN.step("filter-t2")
    record = after(StepBegun(step.id, WayName.STEP_AND_FIT), measured(step.id, None)).current
    assert record is not None

    assert decide(step, record).choices == (Choice.ADJUST, Choice.LEAVE, Choice.AGAIN)


def test_what_was_set_in_the_factory_is_never_proposed_to_be_turned() -> None:
    step = PLAN.step("passband-third")
    assert all(adjuster.measure_only for adjuster in step.adjusters)
    record = after(StepBegun(step.id, WayName.SWEEP), measured(step.id, judged(500.0))).current
    assert record is not None

    decision = decide(step, record)

    assert Choice.ADJUST not in decision.choices
    assert "set in the factory" in decision.reason


def test_adjusting_without_success_is_not_proposed_for_ever() -> None:
    step = PLAN.step("beat-oscillator")
    bad = judged(500.0)
    notes: list[Note] = [StepBegun(step.id, WayName.COUNT), measured(step.id, bad)]
    for _ in range(2):
        notes += [
            StepDecided(step.id, Choice.ADJUST),
            measured(step.id, bad, Phase.ADJUST, turned=True),
            measured(step.id, bad, Phase.AS_LEFT),
        ]
    record = after(*notes).current
    assert record is not None

    assert decide(step, record).proposal is Choice.LEAVE


def test_a_suspicion_from_adjusting_stands_while_the_figure_is_off() -> None:
    seized = suspect_without_figure("The error", 20.0, Signs(seized=True))
    notes = [
        StepBegun("beat-oscillator", WayName.COUNT),
        measured("beat-oscillator", judged(500.0)),
        StepDecided("beat-oscillator", Choice.ADJUST),
        measured("beat-oscillator", seized, Phase.ADJUST),
    ]

    still_off = after(*notes, measured("beat-oscillator", judged(500.0), Phase.AS_LEFT)).current
    right_after_all = after(*notes, measured("beat-oscillator", judged(0.0), Phase.AS_LEFT)).current

    assert still_off is not None
    assert still_off.ending is Ending.SUSPECT
    assert right_after_all is not None
    assert right_after_all.ending is Ending.GOOD


def test_measuring_again_forgets_what_was_found_but_never_that_something_was_turned() -> None:
    step_id = "beat-oscillator"
    found = after(StepBegun(step_id, WayName.COUNT), measured(step_id, judged(9.0)), StepDecided(step_id, Choice.AGAIN))
    left = after(*adjusted(step_id, judged(1.0))[:-1], StepDecided(step_id, Choice.AGAIN))

    assert found.current is not None
    assert next_phase(found.current) is Phase.AS_FOUND
    assert left.current is not None
    assert (next_phase(left.current), left.current.adjusted) == (Phase.AS_LEFT, True)


def test_a_step_left_in_the_middle_of_adjusting_counts_as_turned_and_not_as_judged() -> None:
    notes = adjusted("beat-oscillator", judged(1.0))[:3]
    progress = after(*notes, StepLeft("beat-oscillator", "The person left it as it is."))
    record = progress.record("beat-oscillator")

    assert record is not None
    assert (record.ending, record.adjusted) == (Ending.UNJUDGED, True)


def test_out_of_order_is_refused_with_the_reason() -> None:
    order = order_of(PLAN, after(*done("warm-up")), "filter-t2")

    assert order.refused
    assert "T2, second IF waits for 'Third oscillator'" in order.reasons[0]
    assert order.reasons[0].count("turn has not come yet") == 1


def test_after_a_step_that_was_left_off_its_limits_the_next_is_warned_of_and_not_refused() -> None:
    notes = [
        *done("warm-up"),
        *done("beat-oscillator"),
        *done("passband-third"),
        *done("oscillator-third", judged(500.0)),
    ]
    order = order_of(PLAN, after(*notes), "filter-t2")

    assert not order.refused
    assert order.reasons == ("T2, second IF rests on 'Third oscillator', since it was left outside its limits.",)


def test_passband_symmetry_is_refused_until_its_oscillator_is_within_limits() -> None:
    """Common practice: both edges are compared with the beat oscillator, so an error of it goes into the answer."""
    off = [*done("warm-up"), *done("beat-oscillator", judged(500.0)), *done("passband-third")]
    right = [*done("warm-up"), *done("beat-oscillator"), *done("passband-third")]

    assert order_of(PLAN, after(*off), "passband-symmetry").refused
    assert not order_of(PLAN, after(*right), "passband-symmetry").refused


def stuck_beat_oscillator() -> list[Note]:
    """Note a warm-up and a beat oscillator whose slug turned out to be seized, and the passband after it."""
    seized = judge_error("The error", Estimate(500.0, 1.0), 20.0, in_unit("Hz"), signs=Signs(seized=True))
    stuck = replace(
        outcome("beat-oscillator", Phase.ADJUST, seized), stuck=(StuckAdjuster("beat oscillator slug", Stuck.SEIZED),)
    )
    return [
        *done("warm-up"),
        StepBegun("beat-oscillator", WayName.COUNT),
        measured("beat-oscillator", judged(500.0)),
        StepDecided("beat-oscillator", Choice.ADJUST),
        StepMeasured(stuck, 0.0),
        StepDecided("beat-oscillator", Choice.LEAVE),
        *done("passband-third", judged(500.0)),
    ]


def test_a_refused_step_is_kept_as_blocked_with_what_to_do_first() -> None:
    before = after(*stuck_beat_oscillator())
    order = order_of(PLAN, before, "passband-symmetry")
    progress = noted(before, StepLeft("passband-symmetry", " ".join(order.reasons), order.blocked_by))

    record = progress.record("passband-symmetry")
    assert record is not None
    assert (record.ending, record.blocked_by) == (Ending.BLOCKED, ("beat-oscillator",))
    assert "The beat oscillator slug is seized: free it without force" in (record.reason or "")
    assert "Put 'Beat oscillator' right first" in (record.reason or "")
    (told,) = to_be_told(PLAN, progress, "passband-third")
    assert told.startswith("Passband of the third IF is moved by passband knob, which 'Passband control symmetry' sets")


def test_a_blocked_step_comes_again_once_what_blocked_it_is_right() -> None:
    """Mended on the bench beside it, so that this program never saw it adjusted."""
    left = StepLeft("passband-symmetry", "It waits.", ("beat-oscillator",))
    blocked = after(*stuck_beat_oscillator(), left)
    mended = reduce(noted, done("beat-oscillator"), blocked)

    waiting, free = next_step(PLAN, blocked), next_step(PLAN, mended)
    assert waiting is not None
    assert free is not None
    assert (waiting.id, free.id) == ("oscillator-third", "passband-symmetry")


def test_a_seized_adjuster_is_told_until_it_has_been_turned() -> None:
    """Though the figure is good, and though the step was measured again after others."""
    stuck = replace(outcome("beat-oscillator", Phase.ADJUST, judged(0.0)), stuck=(StuckAdjuster("slug", Stuck.SEIZED),))
    notes = [
        StepBegun("beat-oscillator", WayName.COUNT),
        StepMeasured(stuck, 0.0),
        StepDecided("beat-oscillator", Choice.LEAVE),
        *done("beat-oscillator"),
    ]

    assert after(*notes).latest["beat-oscillator"].ending is Ending.GOOD
    assert to_be_told(PLAN, after(*notes), "beat-oscillator")[0].startswith("The slug is seized")
    assert to_be_told(PLAN, after(*notes, *adjusted("beat-oscillator", judged(0.0))), "beat-oscillator") == ()


def test_what_pointed_at_a_part_while_turning_is_told_though_the_figure_came_right() -> None:
    """A circuit far off may be helped by its neighbour: the can is good, and its capacitor has drifted all the same."""
    out = judge_error("The error", Estimate(500.0, 1.0), 20.0, in_unit("Hz"), signs=Signs(never_peaks=True))
    notes = adjusted("beat-oscillator", judged(0.0))
    notes[3] = measured("beat-oscillator", out, Phase.ADJUST, turned=True)

    assert after(*notes).latest["beat-oscillator"].ending is Ending.GOOD
    assert to_be_told(PLAN, after(*notes), "beat-oscillator") == ("Why not.",)
    assert to_be_told(PLAN, after(*notes, *adjusted("beat-oscillator", judged(0.0))), "beat-oscillator") == ()


def test_a_passband_left_off_does_not_keep_its_control_from_being_made_even() -> None:
    """The knob on its shaft is what moves the passband: waiting for the passband would wait for ever."""
    notes = [*done("warm-up"), *done("beat-oscillator"), *done("passband-third", judged(500.0))]

    order = order_of(PLAN, after(*notes), "passband-symmetry")

    assert not order.refused
    assert "left outside its limits" in order.reasons[0]


def test_a_suspicion_stands_where_the_figure_that_led_to_it_is_not_measured_again() -> None:
    """A dip between humps shows only while the slugs are turned; a good level afterwards does not take it back."""
    dip = Finding(
        called("dip", "dB"), "", Estimate(1.8, 0.1), suspect_without_figure("The dip", 1.0, Signs(seized=True))
    )
    notes: list[Note] = [
        StepBegun("filter-t2", WayName.STEP_AND_FIT),
        measured("filter-t2", judged(500.0)),
        StepDecided("filter-t2", Choice.ADJUST),
        StepMeasured(StepOutcome("filter-t2", Phase.ADJUST, (dip,)), at_s=0.0),
        measured("filter-t2", judged(0.0), Phase.AS_LEFT),
        StepDecided("filter-t2", Choice.LEAVE),
    ]
    record = after(*notes).record("filter-t2")

    assert record is not None
    assert record.ending is Ending.SUSPECT


def test_what_another_step_moved_is_measured_again() -> None:
    knob = StepOutcome("passband-symmetry", Phase.ADJUST, (), (Turned("passband knob", 0.1),))
    notes = [
        *done("warm-up"),
        *done("beat-oscillator"),
        *done("passband-third"),
        StepBegun("passband-symmetry", PLAN.step("passband-symmetry").ways[0].name),
        StepMeasured(knob, at_s=0.0),
        StepDecided("passband-symmetry", Choice.LEAVE),
    ]
    step = next_step(PLAN, after(*notes))

    assert step is not None
    assert step.id == "passband-third"
    step = next_step(PLAN, after(*notes, *done("passband-third")))
    assert step is not None
    assert step.id == "oscillator-third"


def test_steps_that_keep_undoing_each_other_come_to_an_end() -> None:
    notes = list(done("warm-up"))
    for _ in range(20):
        notes += adjusted("beat-oscillator", judged(0.0)) + adjusted("passband-third", judged(0.0))
    step = next_step(PLAN, after(*notes, *adjusted("warm-up", judged(0.0))))

    assert step is not None
    assert step.id == "passband-symmetry"


def test_adjusting_an_earlier_step_again_sends_the_walk_back_to_what_rests_on_it() -> None:
    names = [step.id for step in PLAN.steps]
    notes = [note for name in names for note in done(name)]
    progress = after(*notes, *adjusted("filter-t2", judged(0.0)))

    assert [step.id for step in undone_by(PLAN, progress, "filter-t1")] == ["filter-t2"]
    step = next_step(PLAN, progress)
    assert step is not None
    assert step.id == "filter-t1"
    assert "measured again" in order_of(PLAN, progress, "filter-t1").reasons[0]


def test_adjusting_in_order_sends_nobody_back() -> None:
    progress = after()
    for step in PLAN.steps:
        progress = reduce(noted, adjusted(step.id, judged(0.0)), progress)

    assert next_step(PLAN, progress) is None


def test_a_note_of_a_step_that_was_not_begun_is_refused() -> None:
    with pytest.raises(ValueError, match="was not begun"):
        after(measured("beat-oscillator", judged(0.0)))


def test_the_way_taken_is_the_first_for_which_the_bench_has_every_instrument() -> None:
    step = PLAN.step("beat-oscillator")

    assert [way.name for way in ways_at_hand(step, frozenset({"counter"}))] == [WayName.COUNT]
    assert WayName.COUNT not in {way.name for way in ways_at_hand(step, frozenset({"source", "meter"}))}


def warmed_up(rate_hz: float, to_come_hz: float | None = None) -> Progress:
    """Give the progress after a warm-up that ended 1000 seconds after the epoch."""
    findings = [Finding(called("drift", "Hz a minute"), "", Estimate(rate_hz, 0.1))]
    findings += (
        [] if to_come_hz is None else [Finding(called("drift still to come", "Hz"), "", Estimate(to_come_hz, 1.0))]
    )
    return after(
        StepBegun("warm-up", WayName.COUNT),
        StepMeasured(StepOutcome("warm-up", Phase.AS_FOUND, tuple(findings)), at_s=1000.0),
        StepDecided("warm-up", Choice.LEAVE),
    )


def test_drift_since_the_warm_up_is_warned_of_once_it_may_spoil_the_figure() -> None:
    """4 Hz a minute for 150 minutes is at most 600 Hz, more than half of the dial's limit of 1 kHz; for 5, 20 Hz."""
    assert PLAN.step("warm-up").subject == PLAN.step("dial-second").subject
    progress = warmed_up(-4.0)

    assert drift_warnings(PLAN, progress, "dial-second", 1000.0 + 5 * 60) == ()
    (warning,) = drift_warnings(PLAN, progress, "dial-second", 1000.0 + 150 * 60)
    assert "600 Hz" in warning


def test_an_oscillator_that_was_not_counted_is_taken_to_drift_by_the_same_share() -> None:
    """600 Hz of 3.67 MHz is 13.9 Hz of 85 kHz."""
    (drifted,) = drift_since(PLAN, warmed_up(-4.0), "beat-oscillator", 1000.0 + 150 * 60)

    assert drifted.most_hz == pytest.approx(13.90, abs=0.05)
    assert not drifted.counted
    assert "by the same share" in drift_warnings(PLAN, warmed_up(-4.0), "beat-oscillator", 1000.0 + 150 * 60)[0]


def test_a_drift_that_dies_away_never_goes_beyond_what_is_still_to_come() -> None:
    """Newton's law of cooling: 1 - 1/e of it in one time constant, here of ten minutes."""
    (drifted, *_) = drift_since(PLAN, warmed_up(-4.0, 40.0), "dial-second", 1000.0 + 10 * 60)
    assert drifted.most_hz == pytest.approx(40.0 * (1.0 - 1.0 / 2.71828), abs=0.01)
    assert drift_warnings(PLAN, warmed_up(-4.0, 40.0), "dial-second", 1000.0 + 1000 * 60) == ()


def test_drift_counts_from_when_the_oscillator_was_last_measured() -> None:
    progress = reduce(noted, done("beat-oscillator"), warmed_up(-4.0))
    beat = drift_since(PLAN, progress, "passband-symmetry", 1000.0 + 60 * 60)[0]

    assert beat.minutes == pytest.approx(60.0)
    later = StepMeasured(outcome("beat-oscillator", Phase.AS_FOUND, judged(0.0)), at_s=1000.0 + 50 * 60)
    notes: list[Note] = [
        StepBegun("beat-oscillator", WayName.COUNT),
        later,
        StepDecided("beat-oscillator", Choice.LEAVE),
    ]
    beat = drift_since(PLAN, reduce(noted, notes, progress), "passband-symmetry", 1000.0 + 60 * 60)[0]
    assert beat.minutes == pytest.approx(10.0)


def test_where_no_frequency_is_known_the_drift_is_said_to_be_unknown() -> None:
    """And a crystal's is not counted at all."""
    dial = replace(
        PLAN.step("dial-second"),
        oscillators=(
            Oscillator("conversion.odd", "odd oscillator", None),
            Oscillator("x", "crystal", 5e3, crystal=True),
        ),
    )
    plan = replace(PLAN, steps=(*(dial if step.id == dial.id else step for step in PLAN.steps),))
    (drifted,) = drift_since(plan, warmed_up(-4.0), "dial-second", 1000.0 + 60 * 60)

    assert (drifted.name, drifted.most_hz) == ("odd oscillator", None)


def test_verdicts_used_here_are_what_their_names_say() -> None:
    assert [judged(error).verdict for error in (0.0, 30.0, 500.0)] == [Verdict.LEAVE, Verdict.TOUCH_UP, Verdict.ADJUST]
