"""Carry out `peakwright listen`."""

import sys
import time

import typer

from server.errors import SoundInputError
from server.plain import dump
from server.sound.listening import LONGEST_S, Listened, listen_to, plain_figures, text_of, watch
from server.sound.port import SoundInput
from server.terminal.console import HarmlessConsole
from server.wiring import open_sound

DEFAULT_S = 3.0
"""How long an input is listened to where nobody says."""


def run_listen(
    name: str | None, duration_s: float | None, between_hz: tuple[float, float] | None, *, as_json: bool
) -> None:
    """Listen, and print what is heard. At a terminal, without JSON, an input is shown live.

    Raises:
        SoundInputError: there is no tone, or nothing to listen to.
    """
    sound = open_sound(name)
    try:
        if not as_json and not _is_file(name) and sys.stdout.isatty():
            _live(sound, duration_s, between_hz)
            return
        listened = _once(sound, name, duration_s, between_hz)
    finally:
        sound.close()
    typer.echo(dump(plain_figures(listened)) if as_json else text_of(listened))
    if listened.heard.tone_hz is None:
        raise SoundInputError(listened.sentences[-1] if not listened.heard.doubts else listened.heard.doubts[-1].text)


def _once(
    sound: SoundInput, name: str | None, duration_s: float | None, between_hz: tuple[float, float] | None
) -> Listened:
    asked_s = duration_s or (LONGEST_S if _is_file(name) else DEFAULT_S)
    recording = sound.record(min(asked_s, LONGEST_S))
    cut = asked_s >= LONGEST_S and len(recording.samples) >= round(LONGEST_S * recording.rate_hz)
    return listen_to(recording, between_hz, cut=cut)


def _live(sound: SoundInput, duration_s: float | None, between_hz: tuple[float, float] | None) -> None:
    console = HarmlessConsole()
    console.print(f"Listening to {sound.name}. Nothing is recorded. Press Ctrl-C to stop.", markup=False)
    until_s = None if duration_s is None else time.monotonic() + duration_s
    try:
        watch(sound, console, between_hz, lambda: until_s is None or time.monotonic() < until_s)
    except KeyboardInterrupt:
        console.print("Stopped.")


def _is_file(name: str | None) -> bool:
    return name is not None and name.casefold().endswith((".wav", ".wave"))
