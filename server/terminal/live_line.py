"""Live adjusting at a terminal: one line with the word, a bar and the figure, redrawn as the readings come."""

import math

from rich.console import Console
from rich.live import Live
from rich.text import Text

from sequences.engine.events import GaugeKind, Guidance
from sequences.numerics.adjusters.coach import Word

HALF_BAR = 20
"""Characters from the middle of the bar, the target, to either end; a peak's bar has them from the best down."""

REDRAWN_HZ = 10

STYLES = {
    Word.TURN: "bold",
    Word.TURN_BACK: "bold yellow",
    Word.PAST_IT: "bold yellow",
    Word.HOLD: "bold cyan",
    Word.DONE: "bold green",
    Word.WAIT: "dim",
}
UNITS = {"Hz": ((1e6, "MHz"), (1e3, "kHz")), "V": ((1.0, "V"), (1e-3, "mV"))}


class LiveLine:
    """The line at the foot of a console. Where that is no terminal a line is printed whenever the word changes."""

    def __init__(self, console: Console) -> None:
        """Show nothing yet."""
        self._console = console
        self._live: Live | None = None
        self._word: Word | None = None

    def show(self, guidance: Guidance) -> None:
        """Show what to do now. Steps that are counted are told by their questions."""
        if guidance.gauge is GaugeKind.STEP_AND_FIT:
            return
        if not self._console.is_terminal:
            self._print(guidance)
            return
        if self._live is None:
            self._live = Live(console=self._console, auto_refresh=False, refresh_per_second=REDRAWN_HZ)
            self._live.start()
        self._live.update(drawn(guidance, self._console.width), refresh=True)

    def end(self) -> None:
        """Leave the line as it stands, for something else is to be shown."""
        self._word = None
        if self._live is not None:
            self._live.stop()
            self._live = None

    def _print(self, guidance: Guidance) -> None:
        if guidance.word is not self._word:
            self._word = guidance.word
            self._console.print(f"{guidance.word.upper():<9}  {guidance.sentence}", markup=False, highlight=False)


def drawn(guidance: Guidance, width: int) -> Text:
    """Draw the line: the word in capitals, the bar, the figure, and which way where that is known."""
    way = "" if guidance.way is None else f" {guidance.way}"
    turns = "" if guidance.turns_left is None else f" {guidance.turns_left:.2f} turn"
    text = f" [{_bar(guidance)}] {_figure(guidance)} of {_say(guidance.full_scale, guidance.unit)}{way}{turns}"
    line = Text(f"{guidance.word.upper():<9}", style=STYLES[guidance.word])
    line.append(text, style="default")
    line.truncate(width - 1)
    return line


def _bar(guidance: Guidance) -> str:
    """A signed error points left or right of the middle; what is below a best shrinks a bar that is full at it."""
    if guidance.error is not None and guidance.below_best is None:
        place = HALF_BAR + round(HALF_BAR * max(-1.0, min(1.0, guidance.error / guidance.full_scale)))
        cells = ["-"] * (2 * HALF_BAR + 1)
        cells[HALF_BAR] = "|"
        cells[place] = "#"
        return "".join(cells)
    if guidance.below_best is None:
        return " " * (2 * HALF_BAR + 1)
    full = 2 * HALF_BAR + 1
    filled = round(full * max(0.0, 1.0 - guidance.below_best / guidance.full_scale))
    return "#" * filled + "-" * (full - filled)


def _figure(guidance: Guidance) -> str:
    if guidance.below_best is not None:
        return f"{_say(guidance.below_best, guidance.unit)} below the best"
    if guidance.error is None:
        return "no reading"
    return f"{'+' if guidance.error >= 0.0 else '-'}{_say(abs(guidance.error), guidance.unit)}"


def _say(size: float, unit: str) -> str:
    """Say a size to three figures, in a prefix of its unit that suits."""
    for factor, name in UNITS.get(unit, ()):
        if size >= factor:
            return f"{_three(size / factor)} {name}"
    smallest = {"V": (1e-6, "uV")}.get(unit, (1.0, unit))
    return f"{_three(size / smallest[0])} {smallest[1]}"


def _three(number: float) -> str:
    places = 2 if number == 0.0 else max(0, min(2, 2 - math.floor(math.log10(number))))
    return f"{number:.{places}f}"
