"""How a step stands, as the API shows it, from what was noted of it."""

from dataclasses import replace
from functools import reduce
from typing import Any

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Stuck, StuckAdjuster, Turned
from sequences.alignment.progress import (
    Choice,
    Note,
    Progress,
    StepBegun,
    StepDecided,
    StepLeft,
    StepMeasured,
    noted,
)
from sequences.kinds import alignment_plan
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Judged, Standing, Verdict
from sequences.plan.content import WayName
from sequences.procedures.dials.dial_findings import ERROR
from sequences.receiver.file import shipped_receivers
from server.api.job_views import JobState, job_view
from tests.quantities import called

RECEIVER = next(one for one in shipped_receivers() if one.id == "skerry-7")
PLAN = alignment_plan(RECEIVER)
WARM_UP, OSCILLATOR, CAN = "warm-up", "beat-oscillator", "filter-t2"
ALL = frozenset({"source", "meter", "counter"})


def judged(verdict: Verdict, value: float) -> Judged:
    """Judge a figure against 20."""
    standing = Standing.WITHIN if verdict is Verdict.LEAVE else Standing.BEYOND
    return Judged(verdict, standing, Estimate(value, 0.5), 20.0, Estimate(abs(value) - 20.0, 0.5), f"It is {value:g}.")


def measured(phase: Phase, value: float, *turned: Turned, advice: str = "", doubt: str = "") -> StepMeasured:
    """Measure the oscillator."""
    verdict = Verdict.LEAVE if abs(value) <= 20 else Verdict.ADJUST
    finding = Finding(called("frequency error", "Hz"), "", Estimate(value, 0.5), judged(verdict, value))
    outcome = StepOutcome(OSCILLATOR, phase, (finding,), turned, (advice,) if advice else (), (doubt,) if doubt else ())
    return StepMeasured(outcome, 1000.0)


def view(*notes: Note, roles: frozenset[str] = ALL) -> dict[str, Any]:
    """Show a job with these notes."""
    job = {"id": 3, "state": "open", "receiver_file": "...", "notes": [], "answers": [], "runs": RUNS}
    attached = {
        "remarks": [{"id": 1, "step_id": None, "at_utc": "t", "text": "Hums."}],
        "photos": [{"id": 2, "step_id": CAN, "at_utc": "t", "name": "can", "media_type": "image/png"}],
    }
    progress = reduce(noted, notes, Progress(RECEIVER.id))
    return job_view(JobState({**job, **attached}, RECEIVER, PLAN, progress, roles, 1000.0))


RUNS = [
    {"id": 7, "step_id": OSCILLATOR, "phase": "as found", "way": "count directly", "started_utc": "t", "ending": None}
]


def state(shown: dict[str, Any], step: str = OSCILLATOR) -> dict[str, Any]:
    """Give how one step stands."""
    found: dict[str, Any] = next(one["state"] for one in shown["steps"] if one["id"] == step)
    return found


LEFT = StepLeft(WARM_UP, "It was warm.")
BEGUN = StepBegun(OSCILLATOR, WayName.COUNT)
FOUND = measured(Phase.AS_FOUND, -111.0, advice="Turn it.", doubt="The pick-up pulls.")
ADJUST = StepDecided(OSCILLATOR, Choice.ADJUST)
TURNED = measured(Phase.ADJUST, 30.0, Turned("beat oscillator slug", -0.75))
LEAVE = StepDecided(OSCILLATOR, Choice.LEAVE)


def test_nothing_noted_nothing_shown() -> None:
    """The first step comes, the others wait for it."""
    shown = view()

    assert shown["next_step"] == WARM_UP
    assert state(shown, WARM_UP)["refused"] == []
    assert "waits for 'Warm-up'" in state(shown)["refused"][0]
    assert (state(shown)["waits_for"], state(shown, WARM_UP)["waits_for"]) == ([WARM_UP], [])
    assert state(shown)["ending"] is None


def test_as_found_stays_beside_what_came_after() -> None:
    """Each phase has its figures; turns of all rounds are summed."""
    second = measured(Phase.ADJUST, 2.0, Turned("beat oscillator slug", -0.125))
    left = measured(Phase.AS_LEFT, 1.0)
    shown = state(view(LEFT, BEGUN, FOUND, ADJUST, TURNED, ADJUST, second, left, LEAVE))

    assert [one["value"] for one in shown["as_found"]] == [-111.0]
    assert [one["value"] for one in shown["adjusted"]] == [2.0]
    assert shown["as_left"] == [
        {
            "quantity": "frequency-error",
            "sense": "either way",
            "meaning": "how far an oscillator is from its frequency",
            "text": "+1.00 \u00b1 0.98\u00a0Hz",
            "limit_text": "\u00b120\u00a0Hz",
            "mark_khz": None,
            "name": "frequency error",
            "where": "",
            "when": None,
            "unit": "Hz",
            "value": 1.0,
            "sigma": 0.5,
            "limit": 20.0,
            "standing": "within its limit",
            "verdict": "leave",
            "conformance": None,
            "times_readings": None,
            "sentence": "It is 1.",
            "reason": None,
        }
    ]
    assert shown["turned"] == [{"adjuster": "beat oscillator slug", "turns": -0.875}]
    assert (shown["ending"], shown["verdict"], shown["way"]) == ("within its limits", "leave", "count directly")


def test_each_figure_stands_as_found_beside_as_left() -> None:
    """What only turning shows comes from the round of turning, and what was not measured again stands alone."""
    gain = Finding(called("level still to be gained", "dB"), "", None, reason="It shows only by turning.")
    shown = Finding(called("level still to be gained", "dB"), "", Estimate(0.1, 0.05))
    outcomes = (
        StepOutcome(CAN, Phase.AS_FOUND, (gain, Finding(called("centre", "Hz"), "", Estimate(470_000.0, 2.0)))),
        StepOutcome(CAN, Phase.ADJUST, (shown,)),
        StepOutcome(CAN, Phase.AS_LEFT, (gain,)),
    )
    way = PLAN.step(CAN).ways[0].name
    notes = [StepMeasured(one, 1000.0 + number) for number, one in enumerate(outcomes)]
    figures = state(view(StepBegun(CAN, way), *notes), CAN)["figures"]

    assert [(one["name"], one["found"] and one["found"]["value"]) for one in figures] == [
        ("level still to be gained", None),
        ("centre", 470_000.0),
    ]
    assert [one["left"] and one["left"]["value"] for one in figures] == [0.1, None]


def test_turns_that_nobody_counted_are_not_made_up() -> None:
    """One round by the meter leaves the whole unknown."""
    by_meter = measured(Phase.ADJUST, 2.0, Turned("beat oscillator slug", None))

    assert state(view(LEFT, BEGUN, FOUND, ADJUST, TURNED, ADJUST, by_meter))["turned"] == [
        {"adjuster": "beat oscillator slug", "turns": None}
    ]


def test_advice_from_before_the_turning_is_no_advice_any_more() -> None:
    """Nor are the doubts."""
    assert state(view(LEFT, BEGUN, FOUND))["advice"] == ["Turn it."]
    assert state(view(LEFT, BEGUN, FOUND))["doubts"] == ["The pick-up pulls."]
    turned = state(view(LEFT, BEGUN, FOUND, ADJUST, TURNED))
    assert (turned["advice"], turned["doubts"]) == ([], [])


def test_a_seized_adjuster_and_what_it_blocks_are_told() -> None:
    """Though the figure itself came right."""
    turned = replace(measured(Phase.ADJUST, 1.0).outcome, stuck=(StuckAdjuster("slug", Stuck.SEIZED),))
    blocked = StepLeft("passband-symmetry", "It waits.", (OSCILLATOR,))
    shown = view(LEFT, BEGUN, FOUND, ADJUST, StepMeasured(turned, 1000.0), LEAVE, blocked)

    assert state(shown)["ending"] == "within its limits"
    assert state(shown)["advice"] == ["The slug is seized: free it without force, or have its core or shaft mended."]
    control = state(shown, "passband-symmetry")
    assert (control["ending"], control["reason"]) == ("blocked by an earlier step", "It waits.")


def test_a_step_that_is_on_has_not_ended() -> None:
    """And goes before any other."""
    shown = view(LEFT, BEGUN, FOUND)

    assert (state(shown)["on"], state(shown)["ending"], state(shown)["verdict"]) == (True, None, "adjust")
    assert shown["next_step"] == OSCILLATOR
    assert state(shown, "passband-third")["refused"] == [
        "The step 'Beat oscillator' is not finished; go on with it, or leave it, first."
    ]


def test_a_figure_without_bound_or_value_is_null() -> None:
    """JSON knows no infinity; the reason stays."""
    lost = Finding(called("frequency error", "Hz"), "band 8.5", None, None, "The counter saw nothing.")
    vague = Finding(called("pull of the pick-up", "Hz"), "", Estimate(3.0, float("inf")))
    note = StepMeasured(StepOutcome(OSCILLATOR, Phase.AS_FOUND, (lost, vague)), 1000.0)
    first, second = state(view(LEFT, BEGUN, note))["as_found"]

    assert (first["value"], first["limit"], first["verdict"]) == (None, None, None)
    assert (first["where"], first["reason"]) == ("band 8.5", "The counter saw nothing.")
    assert (second["value"], second["sigma"]) == (3.0, None)


def test_a_missing_instrument_keeps_a_step_back() -> None:
    """In the words of the plan."""
    shown = view(LEFT, roles=frozenset({"meter"}))

    assert state(shown)["refused"] == ["Beat oscillator needs a counter, and the bench has none that answers."]


def test_a_step_that_another_has_undone_says_which() -> None:
    """The oscillator was adjusted after what rests on it was measured."""
    on_it = next(step for step in PLAN.steps if OSCILLATOR in step.depends_on)
    seen = StepOutcome(on_it.id, Phase.AS_FOUND, ())
    shown = view(
        LEFT,
        StepBegun(on_it.id, on_it.ways[0].name),
        StepMeasured(seen, 1000.0),
        StepDecided(on_it.id, Choice.LEAVE),
        BEGUN,
        FOUND,
        ADJUST,
        TURNED,
        LEAVE,
    )

    assert state(shown, on_it.id)["undone_by"] == [OSCILLATOR]


def test_runs_remarks_and_photos_stand_with_their_step() -> None:
    """Those of the whole job with the job; what is long is left out."""
    shown = view(LEFT)

    assert [one["id"] for one in state(shown)["runs"]] == [7]
    assert state(shown, CAN)["runs"] == []
    assert [one["id"] for one in state(shown, CAN)["photos"]] == [2]
    assert [one["text"] for one in shown["remarks"]] == ["Hums."]
    assert shown["photos"] == []
    assert not {"receiver_file", "notes", "answers", "runs"} & set(shown)


def test_a_dial_step_gives_its_errors_by_mark_with_the_limit() -> None:
    """As found and as left, in the order of the scale whatever the order of measuring; what was not had is left out."""
    dial, place = "dial-second", "{} kHz"
    found = [
        Finding(ERROR, place.format(mark), None if error is None else Estimate(error, 0.01), mark=mark)
        for mark, error in ((500, -7.5), (0, -10.0), (250, None))
    ]
    left = [Finding(ERROR, place.format(0), Estimate(0.02, 0.01), mark=0)]
    notes = (
        StepBegun(dial, WayName.ZERO_BEAT),
        StepMeasured(StepOutcome(dial, Phase.AS_FOUND, tuple(found)), 1000.0),
        StepDecided(dial, Choice.ADJUST),
        StepMeasured(StepOutcome(dial, Phase.ADJUST, (), (Turned("dial pointer", -2.5),)), 1100.0),
        StepMeasured(StepOutcome(dial, Phase.AS_LEFT, tuple(left)), 1200.0),
    )
    shown = view(*notes)

    assert state(shown, dial)["dial"] == {
        "limit_khz": 1.0,
        "found": [
            {"mark_khz": 0.0, "error_khz": -10.0, "sigma_khz": 0.01},
            {"mark_khz": 500.0, "error_khz": -7.5, "sigma_khz": 0.01},
        ],
        "left": [{"mark_khz": 0.0, "error_khz": 0.02, "sigma_khz": 0.01}],
    }
    assert state(shown)["dial"] is None
    assert state(view(), dial)["dial"] is None


def test_an_activity_step_gives_voltage_and_level_of_each_band() -> None:
    """Side by side, with the limit in words and as a figure."""
    activity, name = "activity-first", "activity against band 16"
    weak = Judged(Verdict.LEAVE, Standing.WITHIN, Estimate(-4.0, 0.1), -6.0, Estimate(-2.0, 0.1), "It is -4 dB.")
    findings = (
        Finding(called("test point voltage", "V"), "16", Estimate(-7.0, 0.01)),
        Finding(called("test point voltage", "V"), "25.5", Estimate(-4.4, 0.01)),
        Finding(called(name, "dB"), "25.5", Estimate(-4.0, 0.1), weak),
    )
    note = StepMeasured(StepOutcome(activity, Phase.AS_FOUND, findings), 1000.0)
    bands = state(view(StepBegun(activity, WayName.TEST_POINT), note), activity)["bands"]

    assert (bands["against"], bands["limit_db"]) == (name, -6.0)
    assert "6" in bands["limit"]
    assert [row["band"] for row in bands["rows"]] == ["16", "25.5"]
    assert [row["volts"]["found"]["value"] for row in bands["rows"]] == [-7.0, -4.4]
    assert [row["activity"]["found"] and row["activity"]["found"]["value"] for row in bands["rows"]] == [None, -4.0]
    assert [row["activity"]["left"] for row in bands["rows"]] == [None, None]
