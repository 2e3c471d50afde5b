"""A tunable IF's circuit through a narrower window: step and fit, and what stops it."""

import math

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.kinds.single_peak import single_peak
from sequences.numerics.verdicts.verdict import Verdict
from sequences.procedures.adjusting.circuit_findings import GAINED, LEFT, LEVEL
from tests.sequences.procedures.circuit_desk import (
    CircuitDesk,
    Detector,
    Slug,
    measure_only,
    shipped,
    single_gain,
    task_of,
)

STEP = "filter-tunable-if-circuit"
LINEAR = Detector()
TRIMMER = "tunable IF trimmer"
TUNED_HZ = 3.1e6
Q = 77.5
"""3.1 MHz at 40 kHz wide (Q = f/B: NEETS Module 9, NAVEDTRA 14181, p. 1-47); a turn of the trimmer is 1 % of C."""


def desk(slug: Slug, heard_hz: float = TUNED_HZ, detector: Detector = LINEAR) -> CircuitDesk:
    """A circuit 40 kHz wide before a window 4 kHz wide (four poles, Butterworth) where the receiver is tuned."""

    def gain(on: CircuitDesk, frequency_hz: float, point: str) -> float:
        assert point == "first mixer"
        window = 1 / math.sqrt(1 + ((frequency_hz - heard_hz) / 2e3) ** 8)
        return 150.0 * window * single_gain(frequency_hz, TUNED_HZ, Q, on.slugs[TRIMMER].share)

    return CircuitDesk(shipped("skerry-7"), {TRIMMER: slug}, gain, detector)


def found(outcome: StepOutcome, name: str) -> list[Finding]:
    """Give the findings of a name."""
    return [finding for finding in outcome.findings if finding.name == name]


@pytest.mark.parametrize("off_turns", [-3.0, -0.7, 0.0, 1.3, 4.0])
def test_the_trimmer_is_left_on_its_peak_in_few_turns(off_turns: float) -> None:
    on = desk(Slug(at=off_turns))

    outcome = on.run(single_peak, task_of(on.receiver, STEP, Phase.ADJUST))

    assert single_gain(TUNED_HZ, TUNED_HZ, Q, on.slugs[TRIMMER].share) > 10 ** (-0.1 / 20)
    assert len(on.turns()) <= 20
    assert outcome.verdict is Verdict.LEAVE
    before_db = 20 * math.log10(single_gain(TUNED_HZ, TUNED_HZ, Q, 0.01 * off_turns))
    gained = found(outcome, GAINED.name)[0].figure
    assert gained is not None
    assert abs(gained.value + before_db) < 4 * gained.sigma + 0.1
    as_found, as_left = (finding.figure for finding in found(outcome, LEVEL.name))
    assert as_found is not None
    assert as_left is not None
    assert as_found.value - as_left.value == pytest.approx(-before_db, abs=0.5)
    assert sum(turned.turns or 0.0 for turned in outcome.turned) == pytest.approx(-off_turns, abs=0.25)


@pytest.mark.parametrize(
    ("phase", "why"), [(Phase.AS_FOUND, "narrower window"), (Phase.AS_LEFT, "was told while the adjuster was turned")]
)
def test_without_turning_there_is_a_level_and_a_reason_for_what_is_missing(phase: Phase, why: str) -> None:
    on = desk(Slug(at=1.0))

    outcome = on.run(single_peak, task_of(on.receiver, STEP, phase))

    assert not on.turns()
    assert found(outcome, LEVEL.name)[0].figure is not None
    left = found(outcome, LEFT.name)[0]
    assert left.figure is None
    assert why in (left.reason or "")
    assert outcome.verdict is None


def test_a_trimmer_set_in_the_factory_is_not_turned() -> None:
    on = desk(Slug(at=1.0))

    outcome = on.run(single_peak, measure_only(task_of(on.receiver, STEP, Phase.ADJUST), TRIMMER))

    assert not on.turns()
    assert "factory" in outcome.advice[0]


def test_a_seized_trimmer_is_tried_both_ways_and_then_a_part_is_suspected() -> None:
    on = desk(Slug(at=1.0, seized=True))

    outcome = on.run(single_peak, task_of(on.receiver, STEP, Phase.ADJUST))

    ways = [math.copysign(1, asked.detail["turns"]) for asked in on.turns()]
    assert sorted(ways) == [-1, 1]
    assert outcome.verdict is Verdict.SUSPECT
    assert any("cannot be turned" in sentence for sentence in outcome.advice)
    assert outcome.turned == ()


@pytest.mark.parametrize(("at", "right_at"), [(4.0, 8.0), (5.95, 8.0), (-4.0, -8.0), (6.0, 7.0)])
def test_a_peak_beyond_the_travel_leaves_the_trimmer_at_its_end_and_suspects_a_part(at: float, right_at: float) -> None:
    on = desk(Slug(at=at, right_at=right_at))

    outcome = on.run(single_peak, task_of(on.receiver, STEP, Phase.ADJUST))

    assert abs(on.slugs[TRIMMER].at) > 5.9
    assert outcome.verdict is Verdict.SUSPECT
    assert any("end of its travel" in sentence for sentence in outcome.advice)


def test_a_peak_near_an_end_is_found_though_the_first_turns_run_into_it() -> None:
    on = desk(Slug(at=5.98, right_at=4.0))

    outcome = on.run(single_peak, task_of(on.receiver, STEP, Phase.ADJUST))

    assert abs(on.slugs[TRIMMER].at - 4.0) < 0.2
    assert outcome.verdict is Verdict.LEAVE


def test_a_receiver_tuned_beside_its_dial_is_followed_and_doubted() -> None:
    on = desk(Slug(at=1.0), heard_hz=TUNED_HZ + 12e3)

    outcome = on.run(single_peak, task_of(on.receiver, STEP, Phase.ADJUST))

    assert "its dial or an oscillator is off" in outcome.doubts[0]
    tuned_hz = TUNED_HZ / math.sqrt(1 + on.slugs[TRIMMER].share)
    assert abs(tuned_hz - (TUNED_HZ + 12e3)) < 4e3


def test_a_window_that_still_passes_the_alignment_frequency_is_not_followed() -> None:
    on = desk(Slug(at=1.0), heard_hz=TUNED_HZ + 1.2e3)

    outcome = on.run(single_peak, task_of(on.receiver, STEP, Phase.ADJUST))

    assert outcome.doubts == ()
    tuned_hz = TUNED_HZ / math.sqrt(1 + on.slugs[TRIMMER].share)
    assert abs(tuned_hz - TUNED_HZ) < 3e3


def test_too_much_source_level_is_noticed_and_lowered() -> None:
    on = desk(Slug(at=1.0), detector=Detector(ceiling_volts=0.02))

    outcome = on.run(single_peak, task_of(on.receiver, STEP, Phase.ADJUST))

    assert any("flattened" in notice for notice in on.notices())
    assert any("flattened" in doubt for doubt in outcome.doubts)
    assert single_gain(TUNED_HZ, TUNED_HZ, Q, on.slugs[TRIMMER].share) > 10 ** (-0.1 / 20)


def test_a_silent_receiver_leaves_a_reason_and_nothing_turned() -> None:
    on = desk(Slug(), heard_hz=TUNED_HZ + 300e3)

    outcome = on.run(single_peak, task_of(on.receiver, STEP, Phase.ADJUST))

    assert not on.turns()
    assert outcome.verdict is None
    assert "check the leads" in (found(outcome, LEFT.name)[0].reason or "")
