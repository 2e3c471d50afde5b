"""A signal as a stop: heard at once, whatever the thread is at when it comes."""

import signal
import sys
from collections.abc import Callable
from threading import Thread
from types import FrameType
from typing import Any

from server.bench.stop_switch import StopSwitch, stop_on_signals
from tests.server.benches import PATIENCE_S


def test_a_signal_ends_a_wait_and_those_after_it() -> None:
    """Far within the hour that each would last."""
    with stop_on_signals() as switch:
        assert not switch.is_set()
        switch.wait(0.0)
        signal.raise_signal(signal.SIGTERM)

        switch.wait(3600.0)
        switch.wait(3600.0)
        assert switch.is_set()


def test_a_signal_may_come_at_any_line_of_a_wait() -> None:
    """Python takes signals between any two steps of the main thread: it must never wait for itself then.

    Here each line that runs within a wait takes one, as the interpreter lets a signal's handler run there.
    """
    switches = []

    def throw_at(line: int) -> None:
        switch = StopSwitch()
        sys.settrace(_at_line(line, lambda: switch.throw(signal.SIGINT, None)))
        switch.wait(0.01)
        sys.settrace(None)
        switches.append(switch)

    def throw_everywhere() -> None:
        for line in range(60):
            throw_at(line)

    thread = Thread(target=throw_everywhere, daemon=True)
    thread.start()
    thread.join(PATIENCE_S)

    assert not thread.is_alive(), f"a signal at line {len(switches)} of a wait never comes to its end"
    assert switches[1].is_set()


def _at_line(wanted: int, act: Callable[[], None]) -> Callable[..., Any]:
    """Act once, at one of the lines that run, counted from where tracing begins."""
    seen = 0

    def trace(_frame: FrameType, event: str, _argument: object) -> Callable[..., Any]:
        nonlocal seen
        if event == "line":
            seen += 1
            if seen == wanted:
                act()
        return trace

    return trace
