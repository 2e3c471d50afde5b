"""The guardian's program: `python -m server.guardian_process SOURCE`, the words of `server.bench.guardian` on stdin.

It holds no link while all is well, since some instruments serve one client at a time.
"""

import signal
import sys
import time
from collections.abc import Callable, Iterable
from queue import Empty, SimpleQueue
from threading import Thread

from server.bench.guardian import OFF, ON

LONGEST_SILENCE_S = 10.0
"""As long as the operator's page may be gone."""

TRY_EVERY_S = 2.0
LONGEST_TRY_S = 600.0
"""How long it tries on after the program has died; the next start of the service goes on from there."""

SWITCHED_OFF = "The program ended, or stood still, with the source on: its output has been switched off."
GAVE_UP = "The program ended with the source on, and the source could not be reached: switch its output off yourself."


def guard(
    words: "SimpleQueue[str | None]",
    switch_off: Callable[[], bool],
    say: Callable[[str], None],
    *,
    silence_s: float = LONGEST_SILENCE_S,
    try_every_s: float = TRY_EVERY_S,
    clock: Callable[[], float] = time.monotonic,
) -> bool:
    """Follow the program's words until it has ended, None being its end. Say whether the output is off then."""
    on = False
    while (word := _next(words, silence_s)) is not None:
        if word == ON:
            on = True
        elif word == OFF:
            on = False
        elif word == "" and on and switch_off():  # silence; once off, whoever comes back sees to the rest
            on = False
            say(SWITCHED_OFF)
    until_s = clock() + LONGEST_TRY_S
    while on and clock() < until_s:
        if switch_off():
            say(SWITCHED_OFF)
            return True
        time.sleep(try_every_s)
    if on:
        say(GAVE_UP)
    return not on


def _next(words: "SimpleQueue[str | None]", silence_s: float) -> str | None:
    try:
        return words.get(timeout=silence_s)
    except Empty:
        return ""


def _switch_off(source: str) -> bool:
    """Open the source, which switches it off, and let go of it again."""
    from server.bench.file import BenchFile, SourceEntry  # noqa: PLC0415 - while all is well it stays small
    from server.wiring import open_bench, stand_in_for_owners  # noqa: PLC0415 - the same

    stand_in_for_owners()  # a program that stands still keeps its instruments locked
    bench = open_bench(BenchFile(source=SourceEntry.model_validate_json(source)))
    reached = all(card.state != "missing" for card in bench.instruments)
    return bench.close() and reached


def _read(lines: Iterable[str], words: "SimpleQueue[str | None]") -> None:
    for line in lines:
        words.put(line.strip())
    words.put(None)


def main(source: str) -> None:
    """Guard one source until the program that started this has ended."""
    for name in ("SIGINT", "SIGHUP", "SIGQUIT", "SIGTERM"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    words: SimpleQueue[str | None] = SimpleQueue()
    Thread(target=_read, args=(sys.stdin, words), daemon=True).start()

    def say(sentence: str) -> None:
        sys.stderr.write(f"{sentence}\n")

    guard(words, lambda: _switch_off(source), say)


if __name__ == "__main__":
    main(sys.argv[1])
