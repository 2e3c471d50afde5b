"""Progress of a scan on standard error: a bar on a terminal, a line now and then elsewhere."""

from types import TracebackType
from typing import Self, TextIO

from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeElapsedColumn

from sequences.engine import events
from sequences.engine.run import UNCONFIRMED
from server.terminal.console import HarmlessConsole

LINES = 10
"""How many progress lines a whole scan writes where there is no terminal."""


class ScanProgress:
    """The sink of a headless scan's events."""

    def __init__(self, stream: TextIO, *, questions: bool = False) -> None:
        """Write to `stream`. Where a person is asked `questions` there, no bar and no progress comes between them."""
        self._stream = stream
        self._console = HarmlessConsole(file=stream)
        self._questions = questions
        self._bar: Progress | None = None
        self._task = TaskID(0)
        self._line = 0

    def __enter__(self) -> Self:
        """Show the bar."""
        if self._console.is_terminal and not self._questions:
            self._bar = Progress(
                TextColumn("{task.description}"),
                BarColumn(),
                TextColumn("{task.percentage:3.0f} %"),
                TimeElapsedColumn(),
                TextColumn("{task.fields[left]}"),
                console=self._console,
                transient=True,
            )
            self._task = self._bar.add_task("Starting", total=1.0, left="")
            self._bar.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Take the bar away."""
        if self._bar is not None:
            self._bar.stop()

    def __call__(self, event: events.Event) -> None:
        """Take one event."""
        if isinstance(event, events.Progress):
            self._progress(event)
        elif isinstance(event, events.Notice):
            self._say(event.text)
        elif isinstance(event, events.RunEnded) and not event.output_off:
            self._say(UNCONFIRMED)

    def _progress(self, event: events.Progress) -> None:
        left = "" if event.remaining_s is None else f"about {event.remaining_s:.0f} s left"
        if self._bar is not None:
            self._bar.update(self._task, completed=event.done, description=event.text, left=left)
        elif not self._questions and (line := int(event.done * LINES)) > self._line:
            self._line = line
            self._say(f"{event.text}, {event.done:.0%} done" + (f", {left}" if left else ""))

    def _say(self, text: str) -> None:
        if self._bar is not None:
            self._bar.console.print(text, markup=False, highlight=False)
        else:
            self._stream.write(f"{text}\n")
            self._stream.flush()
