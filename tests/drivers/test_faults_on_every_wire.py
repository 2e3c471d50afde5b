"""No reading that is not its own: answers spoilt by a seed on four wires (`python -m tests.benchmarks wire_faults`)."""

from dataclasses import replace

import pytest

import drivers.roles
from drivers.conversation import Conversation
from drivers.dialect import PLAIN_SCPI
from tests.drivers.fault_table import play
from tests.drivers.faulty import KINDS, WIRES, order_of_faults

FAULTS = 24


@pytest.mark.parametrize("wire", WIRES)
def test_no_spoilt_answer_is_taken_for_the_answer_to_another_question(wire: str) -> None:
    """Every reading is the one at the frequency that was set for it, and every run goes on."""
    tally = play(wire, FAULTS, seed=11)

    assert sum(tally.struck.values()) >= FAULTS // 2
    assert not tally.wrong
    assert not +tally.left_on
    assert not +tally.gave_up, tally.reasons


def test_without_its_number_an_answer_is_taken_for_another(monkeypatch: pytest.MonkeyPatch) -> None:
    """The faults are real: an instrument that cannot carry a number is misread by them.

    The late double comes when the machine lets it, so that a busy one may spoil nothing by chance: more are then tried.
    """
    unnumbered = replace(PLAIN_SCPI, conversation=Conversation(echo=False))
    monkeypatch.setattr(drivers.roles, "PLAIN_SCPI", unnumbered)

    assert any(+play("SOCKET", 8, seed=seed, kinds=("doubled late",)).wrong for seed in range(3, 9))


def test_every_kind_of_fault_is_drawn() -> None:
    """In the sample too."""
    assert {kind for kind, _, _ in order_of_faults(11, FAULTS)} == set(KINDS)
