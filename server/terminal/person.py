"""The person at a terminal: a question is printed, and a line typed in answer."""

from collections.abc import Callable

from rich.console import Console

from sequences.engine.asks import CANNOT, DONE
from sequences.engine.events import Asked
from sequences.engine.questions import ConnectLeads, TurnLive
from sequences.procedures.adjusting.live_adjusting import SIGNAL_STEP
from server.alignment.wishes import LeaveStep, StepAgain, StopHere, Wish
from server.bench.stop_switch import StopSwitch

HEADINGS = {"adjust": "Adjust", "connect": "Leads", "set": "Control", "turn": "Turn", "choose": "Choose"}
INDENT = 8
WHILE_TURNING = "Enter begins. While you turn, Enter says that it is done; or type cannot, or step for one nudge made."
SIGNALS = (DONE, CANNOT, SIGNAL_STEP)


WISHES: dict[str, type[Wish]] = {"leave": LeaveStep, "again": StepAgain, "stop": StopHere}
WISHES_HELP = "leave (this step as it is), again (this measurement), stop (go on later)"


class TerminalPerson:
    """Asks on a console. Enter alone takes the first answer; a word may be cut short where it stays unmistakable."""

    def __init__(
        self,
        console: Console,
        read_line: Callable[[str], str],
        stop: StopSwitch,
        glance: Callable[[], str | None] = lambda: None,
    ) -> None:
        """Print on `console`.

        Args:
            console: Where to print.
            read_line: Gives one typed line for a prompt and raises EOFError where none comes.
            stop: Ends a prompt.
            glance: Gives a line where one was typed meanwhile, or None.
        """
        self._console = console
        self._read_line = read_line
        self._stop = stop
        self._glance = glance
        self._holding = False

    def answer(self, asked: Asked) -> str:
        """Ask until the answer is one.

        Raises:
            Wish: the person wants to leave the step, to begin it again or to stop.
            KeyboardInterrupt: a signal came.
        """
        self._holding = False
        self._show(asked)
        while True:
            typed = self._type(asked)
            answer = _understood(typed, asked.answers)
            if answer in asked.answers or not asked.answers:
                self._holding = isinstance(asked.question, TurnLive) and answer == asked.answers[0]
                return answer
            if answer in WISHES:
                raise WISHES[answer](Wish.text)
            self._say(f"'{typed}' is no answer here: type {', '.join(asked.answers)}; or {WISHES_HELP}.")

    def signal(self) -> str | None:
        """Give what was typed while an adjuster is held: Enter alone says that it is done.

        Raises:
            Wish: the person wants to leave the step, to begin it again or to stop.
        """
        if not self._holding:
            return None
        try:
            typed = self._glance()
        except EOFError:
            raise StopHere(Wish.text) from None
        if typed is None:
            return None
        meant = _understood(typed.strip(), SIGNALS)
        if meant in WISHES:
            raise WISHES[meant](Wish.text)
        self._holding = meant not in {DONE, CANNOT}
        return meant if meant in SIGNALS else None

    def _show(self, asked: Asked) -> None:
        question = asked.question
        for caution in question.cautions if isinstance(question, ConnectLeads) else ():
            self._say(caution)
        heading = HEADINGS.get(asked.action, asked.action.capitalize())
        self._say(f"{heading:<{INDENT}}{asked.text}")
        if isinstance(question, TurnLive):
            self._say(f"{'':<{INDENT}}{WHILE_TURNING}")

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
