"""Zero beat by ear: how few questions find it, and how near, against an ear on paper.

Common practice, no source: the ear fails at the same low pitch on either side of zero beat, so the middle between the
two edges is zero beat.
"""

from dataclasses import replace

import numpy as np
import pytest

from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.ear_search import (
    EarGoal,
    Heard,
    ListenAt,
    Note,
    NotHeard,
    ZeroHeard,
    next_question,
)

GOAL = EarGoal(
    expected_hz=Estimate(60e3, 200.0),
    target_hz=60e3,
    reach_hz=2000.0,
    fine_hz=4.0,
    edge_sigma_hz=3.0,
    step_up_hz=20.0,
)
TRIALS = 40


def listen(at_hz: float, zero_hz: float, deaf_below_hz: float) -> Note:
    """What a person hears who hears no note below a pitch, the source having come up by 20 Hz."""
    note_hz, before_hz = abs(at_hz - zero_hz), abs(at_hz - 20.0 - zero_hz)
    if note_hz < deaf_below_hz:
        return Note.SILENT
    return Note.ROSE if note_hz > before_hz else Note.FELL


def search(
    goal: EarGoal, zero_hz: float, deaf_below_hz: float, edge_hz: float = 0.0, slip_at: int | None = None
) -> tuple[ZeroHeard, int]:
    """Ask until it is found, each edge told only so well; give it and the number of questions."""
    rng = np.random.default_rng(round(zero_hz * 1e3) % 2**32)
    heard: list[Heard] = []
    while isinstance(decision := next_question(goal, heard), ListenAt):
        note = listen(decision.source_hz, zero_hz, deaf_below_hz + rng.normal(0.0, edge_hz))
        if len(heard) == slip_at:
            note = Note.ROSE if note is Note.FELL else Note.FELL
        heard.append(Heard(decision.source_hz, note))
    assert isinstance(decision, ZeroHeard), decision
    return decision, len(heard)


@pytest.mark.parametrize("deaf_below_hz", [20.0, 35.0, 60.0])
def test_zero_beat_is_found_within_its_uncertainty_in_few_questions(deaf_below_hz: float) -> None:
    """Errors as receivers have them, up to more than 1 kHz; edges told to 3 Hz."""
    zeros_hz = 60e3 + np.random.default_rng(3).normal(0.0, 400.0, TRIALS)
    found = [(zero_hz, *search(GOAL, float(zero_hz), deaf_below_hz, 3.0)) for zero_hz in zeros_hz]

    pulls = [(one.zero_hz.value - zero_hz) / one.zero_hz.sigma for zero_hz, one, _ in found]
    assert 0.6 < float(np.sqrt(np.mean(np.square(pulls)))) < 1.2
    assert max(count for *_, count in found) <= 16
    assert float(np.mean([count for *_, count in found])) < 11.0


def test_what_is_known_beforehand_saves_questions() -> None:
    """The zone's width as learnt the first time, and where zero beat stands to within 20 Hz."""
    first, _ = search(GOAL, 60e3 + 111.0, 35.0)
    assert first.half_zone_hz.value == pytest.approx(35.0, abs=8.0)

    again = replace(GOAL, half_zone_hz=first.half_zone_hz, expected_hz=Estimate(60e3, 20.0))
    second, asked = search(again, 60e3 + 20.0, 35.0)

    assert asked <= 6
    assert abs(second.zero_hz.value - 60e3 - 20.0) < 4 * second.zero_hz.sigma


def test_far_from_where_it_belongs_a_share_of_the_distance_will_do() -> None:
    near, fine = search(GOAL, 60e3 + 1200.0, 35.0)
    rough, coarse = search(replace(GOAL, share=0.05), 60e3 + 1200.0, 35.0)

    assert coarse <= fine - 2
    assert near.zero_hz.sigma < rough.zero_hz.sigma < 70.0
    assert abs(rough.zero_hz.value - 60e3 - 1200.0) < 3 * rough.zero_hz.sigma


def test_an_ear_that_always_hears_a_note_still_finds_zero_beat() -> None:
    """By where the note turns from falling to rising."""
    found, _ = search(GOAL, 60e3 - 333.0, 0.0)

    assert abs(found.zero_hz.value - 60e3 + 333.0) < 10.0


def test_one_slip_of_the_ear_is_outvoted() -> None:
    found, asked = search(GOAL, 60e3 + 150.0, 35.0, slip_at=2)

    assert abs(found.zero_hz.value - 60e3 - 150.0) < 4 * found.zero_hz.sigma
    assert asked <= 20


def test_where_nothing_is_heard_anywhere_it_says_so() -> None:
    heard: list[Heard] = []
    while isinstance(decision := next_question(GOAL, heard), ListenAt):
        heard.append(Heard(decision.source_hz, Note.SILENT))

    assert isinstance(decision, NotHeard)
    assert "turn the volume up" in decision.reason


def test_where_the_note_only_ever_falls_it_gives_up_at_its_reach() -> None:
    heard: list[Heard] = []
    while isinstance(decision := next_question(GOAL, heard), ListenAt):
        heard.append(Heard(decision.source_hz, Note.FELL))

    assert isinstance(decision, NotHeard)
    assert "2 kHz" in decision.reason
    assert len(heard) <= 15


def test_answers_that_contradict_each_other_are_named() -> None:
    answers = [Heard(60e3, Note.ROSE), Heard(60.2e3, Note.FELL)]

    decision = next_question(GOAL, [*answers, *answers])

    assert isinstance(decision, NotHeard)
    assert "contradict" in decision.reason


def test_a_width_that_was_learnt_wrong_ends_in_an_answer_all_the_same() -> None:
    """The volume was turned down meanwhile: the zone is wider than it was."""
    goal = replace(GOAL, half_zone_hz=Estimate(35.0, 2.0), expected_hz=Estimate(60e3, 60.0))
    found, asked = search(goal, 60e3 + 5.0, 60.0)

    assert asked < 20
    assert abs(found.zero_hz.value - 60e3 - 5.0) < 30.0
