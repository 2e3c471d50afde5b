"""The person at a terminal: a question is printed, and a line typed in answer."""

from collections.abc import Callable

from rich.console import Console

from sequences.engine.events import Asked
from sequences.errors import Stopped
from server.stop_switch import StopSwitch

HEADINGS = {"connect": "Leads", "set": "Control", "turn": "Turn", "choose": "Choose"}
INDENT = 8


class Wish(Stopped):
    """The person wants something else than to answer. Ends the run of the step with the source off."""

    text = "The run was ended."


class LeaveStep(Wish):
    """Leave this step as it is, and go on with the next."""


class StepAgain(Wish):
    """Begin this measurement again."""


class StopHere(Wish):
    """Stop the alignment here, to be gone on with later."""


WISHES: dict[str, type[Wish]] = {"leave": LeaveStep, "again": StepAgain, "stop": StopHere}
WISHES_HELP = "leave (this step as it is), again (this measurement), stop (go on later)"


class TerminalPerson:
    """Asks on a console. Enter alone takes the first answer; a word may be cut short where it stays unmistakable."""

    def __init__(self, console: Console, read_line: Callable[[str], str], stop: StopSwitch) -> None:
        """Print on `console`; `read_line` gives one typed line for a prompt and raises EOFError where none comes."""
        self._console = console
        self._read_line = read_line
        self._stop = stop

    def answer(self, asked: Asked) -> str:
        """Ask until the answer is one.

        Raises:
            Wish: the person wants to leave the step, to begin it again or to stop.
            KeyboardInterrupt: a signal came.
        """
        self._show(asked)
        while True:
            typed = self._type(asked)
            answer = _understood(typed, asked.answers)
            if answer in asked.answers or not asked.answers:
                return answer
            if answer in WISHES:
                raise WISHES[answer](Wish.text)
            self._say(f"'{typed}' is no answer here: type {', '.join(asked.answers)}; or {WISHES_HELP}.")

    def signal(self) -> str | None:
        """Give no signal: a terminal hears only whole lines, and those answer questions."""
        return None

    def _show(self, asked: Asked) -> None:
        for caution in asked.detail.get("cautions", ()):
            self._say(f"Beware: {caution}")
        heading = HEADINGS.get(asked.action, asked.action.capitalize())
        self._say(f"{heading:<{INDENT}}{asked.text}")

    def _type(self, asked: Asked) -> str:
        try:
            with self._stop.at_prompt():
                return self._read_line(_prompt(asked.answers)).strip()
        except EOFError:
            raise StopHere(Wish.text) from None

    def _say(self, text: str) -> None:
        self._console.print(text, markup=False, highlight=False)


def _prompt(answers: tuple[str, ...]) -> str:
    """Show the answer that Enter takes in brackets, then the others."""
    first, *others = answers or ("",)
    return " / ".join([f"[{first}]" if first else "answer", *others]) + " > "


def _understood(typed: str, answers: tuple[str, ...]) -> str:
    """Give the one word that was meant, or what was typed where none was."""
    if not typed:
        return answers[0] if answers else ""
    words = tuple(dict.fromkeys((*answers, *WISHES)))
    exact = [word for word in words if word.lower() == typed.lower()]
    short = [word for word in words if word.lower().startswith(typed.lower())]
    meant = exact or short
    return meant[0] if len(meant) == 1 else typed
