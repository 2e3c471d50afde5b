"""An alignment on a terminal: each step with its cautions first, what a run finds, and how the step ended."""

from collections.abc import Callable

from rich import box
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from sequences.alignment.advice import Order, because, to_be_told
from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.alignment.progress import Ending, Progress, StepRecord
from sequences.engine.events import Asked, Event, Guidance, Notice, RunEnded
from sequences.engine.events import Progress as RunProgress
from sequences.engine.questions import ConnectLeads
from sequences.plan.content import Step, Way
from sequences.plan.order import Plan
from sequences.plan.text import step_paragraphs
from server.report.quantities import say_estimate, scale_for
from server.terminal.live_line import LiveLine

QUARTERS = 4
"""Lines of progress a run writes at most."""

HEADING_WIDTH = 10


class AlignScreen:
    """Prints on a console."""

    def __init__(self, console: Console, plan: Plan) -> None:
        """Show the steps of `plan`."""
        self._console = console
        self._places = {step.id: place for place, step in enumerate(plan.steps, 1)}
        self._quarter = 0
        self._line = LiveLine(console)
        self._watcher: Callable[[Guidance], None] = lambda _: None

    def watched_by(self, watcher: Callable[[Guidance], None]) -> None:
        """Let somebody else see the guidance too."""
        self._watcher = watcher

    def step(self, step: Step, way: Way, order: Order, warnings: tuple[str, ...]) -> None:
        """Show a step that comes now: cautions, leads, controls, what is measured and what good is."""
        self._heading(step, f" ({way.name})")
        for paragraph in step_paragraphs(step, way):
            for number, line in enumerate(paragraph.lines):
                self._say(f"{'' if number else paragraph.heading:<{HEADING_WIDTH}}{line}")
        for reason in (*order.reasons, *warnings):
            self._say(f"{'Note':<{HEADING_WIDTH}}{reason}")

    def refused(self, step: Step, reasons: tuple[str, ...]) -> None:
        """Show why a step cannot be done."""
        self._heading(step, "")
        for reason in reasons:
            self._say(f"Not done: {reason}")

    def phase(self, step: Step, phase: Phase) -> None:
        """Show what a run is for."""
        self._quarter = 0
        said = {Phase.AS_FOUND: "measuring as found", Phase.ADJUST: "adjusting", Phase.AS_LEFT: "measuring as left"}
        self._say(f"{step.title}: {said[phase]}.")

    def event(self, event: Event) -> None:
        """Show what a run emits to be seen. Questions are shown by whoever asks them."""
        if isinstance(event, Guidance):
            self._line.show(event)
            self._watcher(event)
        elif isinstance(event, Asked | RunEnded):
            self._line.end()
        elif isinstance(event, Notice):
            self._say(event.text)
        elif isinstance(event, RunProgress):
            self._progress(event)

    def passed(self, asked: Asked) -> None:
        """Say that what would be asked stands already."""
        if isinstance(asked.question, ConnectLeads):
            self._say("The leads stay as they are.")

    def outcome(self, outcome: StepOutcome) -> None:
        """Show the figures with their verdicts, what was turned, and what to do and to doubt."""
        if outcome.findings:
            self._console.print(_findings_table(outcome))
        for each in outcome.turned:
            by = "by the meter" if each.turns is None else f"by {each.turns:+.2f}"
            self._say(f"Turned: {each.adjuster} {by}")
        for sentence in outcome.advice:
            self._say(sentence)
        for sentence in outcome.doubts:
            self._say(f"Doubt: {sentence}")

    def ended(self, step: Step, record: StepRecord) -> None:
        """Show how a step ended."""
        self._say(f"{step.title}: {_how_it_ended(record)}")

    def summary(self, plan: Plan, progress: Progress) -> None:
        """Show every step and how it stands."""
        table = Table(title="The alignment", title_justify="left", box=box.SIMPLE_HEAD)
        for column in ("Step", "Ended", "Why"):
            table.add_column(column, overflow="fold")
        for step in plan.steps:
            record = progress.record(step.id)
            ended = "not done" if record is None else str(record.ending)
            why = "" if record is None else " ".join((_why(record), *to_be_told(plan, progress, step.id))).strip()
            table.add_row(escape(step.title), ended, escape(why))
        self._console.print(table)

    def say(self, text: str) -> None:
        """Print a sentence."""
        self._say(text)

    def _heading(self, step: Step, more: str) -> None:
        self._console.print()
        text = f"Step {self._places[step.id]} of {len(self._places)}: {step.title}{more}"
        self._console.print(text, style="bold", markup=False, highlight=False)

    def _progress(self, event: RunProgress) -> None:
        quarter = int(event.done * QUARTERS)
        if quarter < self._quarter:
            self._quarter = quarter  # another measurement of the same run began
        elif quarter > self._quarter:
            self._quarter = quarter
            self._say(f"{event.text}, {event.done:.0%} done")

    def _say(self, text: str) -> None:
        self._line.end()
        self._console.print(text, markup=False, highlight=False)


def _findings_table(outcome: StepOutcome) -> Table:
    table = Table(title=str(outcome.phase).capitalize(), title_justify="left", box=box.SIMPLE_HEAD)
    for column in ("Figure", "Where", "Value, ± 95 %", "Verdict"):
        table.add_column(column, overflow="fold")
    for finding in outcome.findings:
        table.add_row(
            escape(finding.name), escape(_where(finding, outcome.phase)), _value(finding), escape(_verdict(finding))
        )
    return table


def _where(finding: Finding, phase: Phase) -> str:
    """Say where a figure was taken; and when, where the table's title does not say that already."""
    when = "" if finding.when in {None, phase} else str(finding.when)
    return ", ".join(part for part in (finding.where, when) if part)


def _value(finding: Finding) -> str:
    if finding.figure is None:
        return "none"
    return escape(say_estimate(finding.figure, scale_for(finding.unit, (finding.figure.value,))))


def _verdict(finding: Finding) -> str:
    said = [finding.judged.text if finding.judged is not None else "", finding.reason or ""]
    return " ".join(part for part in said if part)


def _how_it_ended(record: StepRecord) -> str:
    return f"{record.ending}. {record.reason}" if record.reason else f"{record.ending}."


def _why(record: StepRecord) -> str:
    """Say what led to an ending that somebody will ask about."""
    if record.reason is not None or record.ending is Ending.GOOD or record.judged is None:
        return record.reason or ""
    return because(record.judged)
