"""A passband at each of its widths, against what it should be; and its cans one by one, from the last."""

import math
from dataclasses import replace

import numpy as np
import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.engine.events import CurveFitted
from sequences.kinds.if_passband.passband_findings import SKEW, WIDTH_ERROR
from sequences.kinds.if_passband.passband_stages import stages_from_last
from sequences.kinds.if_passband.procedure import if_passband
from sequences.numerics.verdicts.verdict import Verdict
from sequences.procedures.adjusting.circuit_findings import CENTRE
from tests.sequences.procedures.circuit_desk import CircuitDesk, Detector, Slug, pair_gain, shipped, task_of

IF_HZ = 455e3
Q = 64.0
CRITICAL_WIDTH_HZ = math.sqrt(2) * IF_HZ / Q
"""Zverev, Handbook of Filter Synthesis (1967), n = 2 Butterworth: B = 1.4142 f/Q; from memory."""

TWO_CANS_WIDTH_HZ = CRITICAL_WIDTH_HZ * (math.sqrt(2) - 1) ** 0.25
"""Two such cans: each falls as 1 / (1 + x^4), so that both together are 3 dB down where that is sqrt 2."""


def skerry(
    centre_hz: float = 85e3, widths: float = 1.0, tilt_db_per_width: float = 0.0, gain: float = 2000.0
) -> CircuitDesk:
    """The last IF as a Butterworth of four poles whose width follows the selectivity control."""

    def response(on: CircuitDesk, frequency_hz: float, point: str) -> float:
        assert point == "third mixer"
        width_hz = widths * 1e3 * float(str(on.controls["selectivity"]).split()[0])
        x = 2 * (frequency_hz - centre_hz) / width_hz
        tilt = 10 ** (tilt_db_per_width * max(-1.0, min(1.0, x / 2)) / 20)
        return gain * tilt / math.sqrt(1 + x**8)

    return CircuitDesk(shipped("skerry-7"), {}, response, detector=Detector(ceiling_volts=40.0))


def millrace(can_1: tuple[float, float], can_2: tuple[float, float], coupling_2: float = 1.0) -> CircuitDesk:
    """Two cans with their slugs so many turns from right; the source may enter between them."""
    slugs = {
        f"can {number} {winding}": Slug(at=at)
        for number, pair in ((1, can_1), (2, can_2))
        for winding, at in zip(("primary", "secondary"), pair, strict=True)
    }

    def gain(on: CircuitDesk, frequency_hz: float, point: str) -> float:
        def can(number: int, coupling: float) -> float:
            shares = on.slugs[f"can {number} primary"].share, on.slugs[f"can {number} secondary"].share
            return pair_gain(frequency_hz, IF_HZ, Q, coupling, shares)

        return 100.0 * can(2, coupling_2) * (1.0 if point == "IF grid" else 20.0 * can(1, 1.0))

    return CircuitDesk(shipped("millrace-5"), slugs, gain, detector=Detector(agc_volts=0.3))


def found(outcome: StepOutcome, name: str, where: str = "") -> list[Finding]:
    """Give the findings of a name, at a place or anywhere."""
    return [finding for finding in outcome.findings if finding.name == name and where in finding.where]


@pytest.mark.parametrize("off_hz", [0.0, 80.0])
def test_every_selectivity_is_measured_with_the_leads_moved_once(off_hz: float) -> None:
    on = skerry(85e3 + off_hz)

    outcome = on.run(if_passband, task_of(on.receiver, "passband-third", Phase.AS_FOUND))

    assert [asked.action for asked in on.asked].count("connect") == 1
    assert [asked.detail["to"] for asked in on.asked if asked.subject == "selectivity"] == [
        "0.8 kHz",
        "1.6 kHz",
        "3.2 kHz",
    ]
    assert not on.turns()
    for choice, width_hz in (("0.8 kHz", 800.0), ("1.6 kHz", 1600.0), ("3.2 kHz", 3200.0)):
        centre, width = (found(outcome, name, choice)[0].figure for name in ("centre", "3 dB width"))
        assert centre is not None
        assert width is not None
        assert abs(centre.value - (85e3 + off_hz)) < 4 * centre.sigma
        assert abs(width.value - width_hz) < 4 * width.sigma
        error = found(outcome, CENTRE.name, choice)[0]
        assert error.figure is not None
        assert error.figure.value == pytest.approx(100 * off_hz / width_hz, abs=4 * error.figure.sigma)
        assert error.judged is not None
        assert (error.judged.verdict is Verdict.LEAVE) == (100 * off_hz / width_hz < 10.0)


def test_a_centre_that_is_off_points_first_at_the_control_that_shifts_it() -> None:
    on = skerry(85e3 + 250.0)

    outcome = on.run(if_passband, task_of(on.receiver, "passband-third", Phase.AS_FOUND))

    assert outcome.verdict is Verdict.ADJUST
    assert any("knob stands right on its shaft" in sentence for sentence in outcome.advice)


def test_slugs_set_in_the_factory_are_not_turned_and_a_wrong_width_points_at_a_part() -> None:
    on = skerry(widths=1.4)

    outcome = on.run(if_passband, task_of(on.receiver, "passband-third", Phase.ADJUST))

    assert not on.turns()
    assert [asked.action for asked in on.asked].count("connect") == 1
    judged = found(outcome, WIDTH_ERROR.name, "2 kHz")[0].judged
    assert judged is not None
    assert judged.verdict is Verdict.SUSPECT
    assert "nothing that may be turned" in judged.text


def true_skew_db(tilt_db_per_width: float) -> float:
    """The desk's own curve, a quarter of its 3 dB width above its centre less as much below: by plain arithmetic."""
    x = np.linspace(-2.0, 2.0, 40001)
    level_db = tilt_db_per_width * np.clip(x / 2, -1.0, 1.0) - 10 * np.log10(1 + x**8)
    inside = x[level_db > level_db.max() - 10 * math.log10(2)]
    centre, quarter = (inside[0] + inside[-1]) / 2, (inside[-1] - inside[0]) / 4
    above, below = np.interp([centre + quarter, centre - quarter], x, level_db)
    return float(above - below)


def test_skew_is_held_against_its_limit() -> None:
    """To one decibel, for a Butterworth leans by no more than two however its top is tilted."""
    on = skerry(tilt_db_per_width=6.0)
    task = task_of(on.receiver, "passband-third", Phase.AS_FOUND)
    limits = tuple(replace(limit, most=1.0) if limit.figure == SKEW.name else limit for limit in task.step.limits)

    outcome = on.run(if_passband, replace(task, step=replace(task.step, limits=limits)))

    skew = found(outcome, SKEW.name, "2 kHz")[0]
    assert skew.figure is not None
    assert skew.judged is not None
    assert skew.figure.value == pytest.approx(true_skew_db(6.0), abs=0.3)
    assert "outside the limit" in skew.judged.text


def test_cans_are_told_apart_from_the_last_on() -> None:
    """Can 1 off by a turn and a half (-3.4 kHz), can 2 right: the whole stands between."""
    on = millrace((1.5, 1.5), (0.0, 0.0))

    outcome = on.run(if_passband, task_of(on.receiver, "passband-main", Phase.AS_FOUND))

    connects = [asked.detail["source"]["to"] for asked in on.asked if asked.action == "connect"]
    assert connects == ["IF grid", "converter grid"]
    last, first = found(outcome, "centre", "can 2 alone")[0].figure, found(outcome, "centre", "can 1 alone")[0].figure
    assert last is not None
    assert first is not None
    told_hz = [event.figures["centre_hz"] for event in on.sink.events if isinstance(event, CurveFitted)]
    assert {last.value, first.value} <= set(told_hz), "the curve of each can alone is kept, to be drawn"
    assert abs(last.value - IF_HZ) < 4 * last.sigma + 30
    assert abs(first.value - IF_HZ / math.sqrt(1.015)) < 4 * first.sigma + 30
    for can in ("can 1", "can 2"):
        width = found(outcome, "3 dB width", f"{can} alone")[0].figure
        assert width is not None
        assert width.value == pytest.approx(CRITICAL_WIDTH_HZ, abs=4 * width.sigma + 0.01 * CRITICAL_WIDTH_HZ)
    assert outcome.verdict is Verdict.ADJUST
    assert any(sentence.startswith("Can 1 alone") and "low" in sentence for sentence in outcome.advice)


def test_two_cans_that_are_right_make_the_width_that_two_make() -> None:
    on = millrace((0.0, 0.0), (0.0, 0.0))

    outcome = on.run(if_passband, task_of(on.receiver, "passband-main", Phase.AS_FOUND))

    width = found(outcome, "3 dB width")[-1].figure
    assert width is not None
    assert width.value == pytest.approx(TWO_CANS_WIDTH_HZ, abs=4 * width.sigma + 0.01 * TWO_CANS_WIDTH_HZ)
    assert outcome.verdict is Verdict.LEAVE


def test_only_the_can_that_is_off_is_set_and_all_is_measured_again() -> None:
    on = millrace((1.5, 2.0), (0.1, -0.1))

    outcome = on.run(if_passband, task_of(on.receiver, "passband-main", Phase.ADJUST))

    assert {asked.subject for asked in on.turns()} == {"can 1 primary", "can 1 secondary"}
    assert {turned.adjuster for turned in outcome.turned} == {"can 1 primary", "can 1 secondary"}
    centre = next(
        finding for finding in found(outcome, CENTRE.name) if (finding.where, finding.when) == ("", Phase.AS_LEFT)
    )
    assert centre.judged is not None
    assert centre.judged.verdict is Verdict.LEAVE
    assert abs(on.slugs["can 1 primary"].at) < 0.25
    assert outcome.verdict is Verdict.LEAVE


def test_a_passband_within_its_limits_is_left_alone() -> None:
    on = millrace((0.1, 0.0), (0.0, -0.1))

    outcome = on.run(if_passband, task_of(on.receiver, "passband-main", Phase.ADJUST))

    assert not on.turns()
    assert any("nothing was turned" in sentence for sentence in outcome.advice)
    assert outcome.verdict is Verdict.LEAVE


def test_windings_too_close_together_are_suspected_once_the_slugs_are_right() -> None:
    on = millrace((0.0, 0.0), (0.5, 0.5), coupling_2=2.0)

    outcome = on.run(if_passband, task_of(on.receiver, "passband-main", Phase.ADJUST))

    assert outcome.verdict is Verdict.SUSPECT
    assert any("looks over-coupled" in sentence for sentence in outcome.advice)


def test_too_much_source_level_is_noticed_and_the_passband_not_flattened() -> None:
    """The source forty decibels too high for the detector: read as it stands, the passband would be far too wide."""
    on = skerry(gain=2e5)

    outcome = on.run(if_passband, task_of(on.receiver, "passband-third", Phase.AS_FOUND))

    assert any("flattened" in notice for notice in on.notices())
    assert any("flattened" in doubt for doubt in outcome.doubts)
    width = found(outcome, "3 dB width", "1.6 kHz")[0].figure
    assert width is not None
    assert abs(width.value - 1600.0) < 4 * width.sigma + 10


def test_a_passband_far_from_where_it_should_be_is_looked_for_wider() -> None:
    on = millrace((3.5, 3.5), (3.5, 3.5))

    outcome = on.run(if_passband, task_of(on.receiver, "passband-main", Phase.AS_FOUND))

    centre = next(
        finding for finding in found(outcome, "centre") if (finding.where, finding.when) == ("", Phase.AS_FOUND)
    ).figure
    assert centre is not None
    assert abs(centre.value - IF_HZ / math.sqrt(1.035)) < 4 * centre.sigma + 60


def test_a_silent_receiver_leaves_a_reason_for_each_width() -> None:
    on = skerry(gain=0.0)

    outcome = on.run(if_passband, task_of(on.receiver, "passband-third", Phase.AS_FOUND))

    missing = found(outcome, CENTRE.name)
    assert len(missing) == 3
    assert all(finding.figure is None and "check the leads" in (finding.reason or "") for finding in missing)
    assert outcome.verdict is None


def test_stages_begin_where_the_source_may_enter() -> None:
    millrace_5, skerry_7 = shipped("millrace-5"), shipped("skerry-7")
    hookup = task_of(millrace_5, "passband-main", Phase.AS_FOUND).step.targets[0].hookup
    by_point = [(stage.name, stage.place.hookup.source_to) for stage in stages_from_last(millrace_5, "main", hookup)]
    assert by_point == [("can 2", "IF grid"), ("can 1", "converter grid")]

    second = replace(task_of(skerry_7, "filter-t2", Phase.AS_FOUND).way.hookup)
    together = stages_from_last(skerry_7, "second", second)
    (whole,) = together
    assert (whole.name, whole.place.hookup.source_to) == ("input filter and T1 and T2", "second mixer")
