"""What a person types at a prompt, and what it is taken for."""

import io

import pytest
from rich.console import Console

from sequences.alignment.progress import Choice
from sequences.engine.events import Asked
from server.alignment.wishes import LeaveStep, StepAgain, StopHere
from server.bench.stop_switch import StopSwitch, stop_on_signals
from server.terminal.person import TerminalPerson

TURN = Asked("turn", "T1 primary", "Turn T1 primary 1/8 turn clockwise.", ("done", "cannot"), {"turns": 0.125})
DECIDE = Asked("choose", "decision", "It is off.", tuple(Choice), {})


def answer(asked: Asked, *typed: str) -> tuple[str, str]:
    """Give the answer that typed lines make, and what was printed."""
    printed = io.StringIO()
    lines = iter(typed)

    def read_line(prompt: str) -> str:
        printed.write(prompt)
        try:
            return next(lines)
        except StopIteration:
            raise EOFError from None

    person = TerminalPerson(Console(file=printed, width=200), read_line, StopSwitch())
    return person.answer(asked), printed.getvalue()


@pytest.mark.parametrize(
    ("typed", "meant"), [("", "done"), ("done", "done"), ("DONE", "done"), (" d ", "done"), ("c", "cannot")]
)
def test_enter_takes_the_first_answer_and_a_word_may_be_cut_short(typed: str, meant: str) -> None:
    assert answer(TURN, typed)[0] == meant


@pytest.mark.parametrize(("typed", "wish"), [("leave", LeaveStep), ("again", StepAgain), ("stop", StopHere)])
def test_three_words_are_understood_everywhere(typed: str, wish: type[Exception]) -> None:
    with pytest.raises(wish):
        answer(TURN, typed)


def test_what_is_an_answer_here_is_taken_as_one() -> None:
    """To leave is a choice where it is offered, and not a wish to break off."""
    assert answer(DECIDE, "leave")[0] == "leave"


@pytest.mark.parametrize("typed", ["fly", "a"])
def test_what_is_no_answer_or_may_mean_two_is_asked_again_with_what_may_be_typed(typed: str) -> None:
    given, printed = answer(DECIDE, typed, "adjust")

    assert given == "adjust"
    assert f"'{typed}' is no answer here: type leave, adjust, again" in printed


def test_the_end_of_the_input_stops() -> None:
    with pytest.raises(StopHere):
        answer(TURN)


def test_cautions_come_before_the_leads() -> None:
    asked = Asked("connect", "leads", "Connect the source.", ("done",), {"cautions": ["210 V can kill."]})

    printed = answer(asked, "")[1]

    assert printed.index("210 V can kill.") < printed.index("Connect the source.") < printed.index("[done] > ")


def test_brackets_in_a_text_are_printed_as_they_are() -> None:
    """A receiver file may hold any text, and none of it is a style."""
    asked = Asked("choose", "x", "Choose [red]this[/red].", ("[b]",), {})

    assert "Choose [red]this[/red]." in answer(asked, "")[1]


def test_a_signal_between_two_prompts_ends_the_next_one_at_once() -> None:
    with stop_on_signals() as switch:
        switch.throw(2, None)
        with pytest.raises(KeyboardInterrupt), switch.at_prompt():
            pytest.fail("the prompt was shown")
        assert switch.is_set()
