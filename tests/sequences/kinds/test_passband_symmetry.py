"""The passband control's knob on paper: a filter of equal circuits that moves with the control."""

import math

import numpy as np
import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.kinds.passband_symmetry import passband_symmetry
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import WayName
from tests.sequences.procedures.oscillator_desk import Desk, measure_only, task_of

WIDTH_HZ = 2000.0
SHIFT_HZ = 1500.0
NOISE = 2e-3


def desk_with(knob_marks: float, beat_hz: float = 85e3, travel_marks: float = 0.4, *, stuck: bool = False) -> Desk:
    """A maximally flat filter of order 4, 2 kHz wide, its control's knob so far up on the shaft; a linear detector."""
    random = np.random.default_rng(3)

    def volts(desk: Desk) -> float:
        noise_v = random.normal(0.0, 1e-4)
        if not desk.source.output_on:
            return float(noise_v)
        knob = knob_marks + (0.0 if stuck else desk.turned.get("passband knob", 0.0))
        centre_hz = 85e3 + SHIFT_HZ * (float(desk.controls["passband"]) - knob)
        source_hz = desk.source.frequency_hz
        off = centre_hz / WIDTH_HZ * (source_hz / centre_hz - centre_hz / source_hz)
        carrier_v = 300.0 * 10 ** (desk.source.power_dbm / 20.0) / math.sqrt(1.0 + off**8)
        return float(carrier_v * (1.0 + random.normal(0.0, NOISE)) + noise_v)

    return Desk(beat_hz=beat_hz, volts=volts, travel_turns=travel_marks)


def true_notes_hz(knob_marks: float) -> tuple[float, float]:
    """The lower edge at the low end and the upper edge at the high end, from 85 kHz: f2 - f1 = B, f1 f2 = f0^2."""
    low_hz, high_hz = (85e3 + SHIFT_HZ * (mark - knob_marks) for mark in (-1.0, 1.0))
    half_hz = WIDTH_HZ / 2
    return 85e3 - (math.hypot(low_hz, half_hz) - half_hz), math.hypot(high_hz, half_hz) + half_hz - 85e3


def figure(outcome: StepOutcome, name: str, where: str = "", when: Phase | None = None) -> Finding:
    """Give a finding."""
    return next(one for one in outcome.findings if (one.name, one.where, one.when) == (name, where, when))


@pytest.mark.parametrize("way", [WayName.EDGE_BEAT, WayName.BY_EAR])
@pytest.mark.parametrize("knob_marks", [-0.08, 0.05])
def test_the_two_notes_and_the_turn_are_found(way: WayName, knob_marks: float) -> None:
    """85 kHz -+ 1.5 kHz and half of 2 kHz: about 2500 Hz, less at the high end by what the knob is up."""
    outcome = desk_with(knob_marks).run(passband_symmetry, task_of("passband-symmetry", Phase.AS_FOUND, way))

    low_hz, high_hz = true_notes_hz(knob_marks)
    assert low_hz == pytest.approx(2500.0 + SHIFT_HZ * knob_marks, abs=10.0)
    for name, where, truth_hz in (
        ("highest note that passes", "low end", low_hz),
        ("highest note that passes", "high end", high_hz),
        ("difference of the two ends", "", high_hz - low_hz),
    ):
        found = figure(outcome, name, where).figure
        assert found is not None
        assert abs(found.value - truth_hz) < 4 * found.sigma
    assert f"of a mark {'down' if knob_marks > 0 else 'up'} its scale" in outcome.advice[0]


def test_the_knob_is_turned_until_both_ends_are_alike() -> None:
    """Within 60 Hz, 0.02 of a mark."""
    desk = desk_with(0.09)

    outcome = desk.run(passband_symmetry, task_of("passband-symmetry", Phase.ADJUST))

    assert desk.turned["passband knob"] == pytest.approx(-0.09, abs=0.02)
    assert outcome.verdict is Verdict.LEAVE
    assert figure(outcome, "difference of the two ends", when=Phase.AS_FOUND).figure is not None


@pytest.mark.parametrize("phase", list(Phase))
def test_it_is_refused_while_the_beat_oscillator_is_off(phase: Phase) -> None:
    """85 Hz against a limit of 20 Hz: neither measured nor turned."""
    desk = desk_with(0.09, beat_hz=85e3 + 85.0)

    outcome = desk.run(passband_symmetry, task_of("passband-symmetry", phase))

    (found,) = outcome.findings
    assert found.figure is None
    assert "bring it within its limit of 20 Hz first" in (found.reason or "")
    assert not desk.turned
    assert desk.source.frequency_hz == 0.0


def test_the_beat_oscillator_is_off_while_the_passband_is_swept() -> None:
    """It is counted first, then switched off: the detector would rectify it."""
    desk = desk_with(0.0)

    desk.run(passband_symmetry, task_of("passband-symmetry", Phase.AS_FOUND))

    assert [one.detail["to"] for one in desk.asked if one.subject == "beat oscillator"] == ["on", "off", "off"]
    assert [one.detail["to"] for one in desk.asked if one.subject == "passband"] == [0.0, -1.0, 1.0]


def test_a_knob_that_slips_is_given_up() -> None:
    """It turns, and nothing follows."""
    outcome = desk_with(0.09, stuck=True).run(passband_symmetry, task_of("passband-symmetry", Phase.ADJUST))

    assert outcome.verdict is Verdict.SUSPECT
    assert len(outcome.turned) == 1


def test_a_knob_that_cannot_be_turned_is_said_to_be_stuck() -> None:
    """Rusted to its shaft."""
    outcome = desk_with(0.09, travel_marks=0.0).run(passband_symmetry, task_of("passband-symmetry", Phase.ADJUST))

    judged = figure(outcome, "difference of the two ends").judged
    assert judged is not None
    assert "cannot be turned" in judged.text


def test_what_was_set_in_the_factory_is_not_turned() -> None:
    """The advice says how far it is off all the same."""
    desk = desk_with(0.09)

    outcome = desk.run(passband_symmetry, measure_only(task_of("passband-symmetry", Phase.ADJUST)))

    assert not desk.turned
    assert outcome.advice


def test_edges_that_do_not_show_leave_a_reason() -> None:
    """The source's lead is off: nothing but noise."""
    desk = desk_with(0.0)
    desk.volts = lambda _: 0.001

    outcome = desk.run(passband_symmetry, task_of("passband-symmetry", Phase.AS_FOUND))

    assert outcome.findings[-1].figure is None
    assert outcome.findings[-1].reason
