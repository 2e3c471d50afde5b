"""The computer's sound input, through PortAudio."""

import os
import threading
from collections.abc import Generator
from contextlib import contextmanager, suppress
from typing import Any

import numpy as np

from drivers.sound.errors import SoundError
from drivers.sound.recording import Recording, Samples, loudest_channel

_NOT_INSTALLED = "Sound input needs the package sounddevice. Install peakwright[sound]."
_NO_PORTAUDIO = (
    "Sound input needs PortAudio, which is not on this computer. Install it (Debian: apt install libportaudio2)."
)
_NO_INPUT = "This computer has no sound input. Plug one in, or name a WAV file."
_PATIENCE_S = 5.0
"""How much longer than the recording itself its samples may take to come."""


class DeviceInput:
    """One sound input, listening from when it is opened until it is closed. Nothing is kept on disk."""

    def __init__(self, name: str | None = None) -> None:
        """Open the input that is called so, or that has this in its name; the system's default where left out.

        Raises:
            SoundError: there is none; the sentence says what to do.
        """
        self._address = f"sound:{name}" if name else "sound"
        with _quiet():
            library = _library(self._address)
            device = _find(library, name, self._address)
            self._name = str(device["name"])
            self._rate_hz = float(device["default_samplerate"])
            self._blocks: list[Samples] = []
            self._lost = False
            self._waiting = False
            self._news = threading.Condition()
            self._stream = self._open(library, device)

    @property
    def name(self) -> str:
        """What the system calls it."""
        return self._name

    def record(self, duration_s: float) -> Recording:
        """Give the sound from now on for so long.

        Raises:
            SoundError: the input stopped.
        """
        wanted = max(1, round(duration_s * self._rate_hz))
        with self._news:
            self._blocks, self._lost, self._waiting = [], False, True
            came = self._news.wait_for(lambda: self._count() >= wanted, timeout=duration_s + _PATIENCE_S)
            blocks, lost, self._waiting, self._blocks = self._blocks, self._lost, False, []
        if not came:
            raise SoundError(self._address, f"The sound input {self._name} stopped. Plug it in again and look again.")
        return Recording(loudest_channel(np.concatenate(blocks)[:wanted]), self._rate_hz, lost)

    def close(self) -> None:
        """Stop listening."""
        with suppress(Exception), _quiet():
            self._stream.abort()
            self._stream.close()

    def _count(self) -> int:
        return sum(len(block) for block in self._blocks)

    def _open(self, library: Any, device: dict[str, Any]) -> Any:  # noqa: ANN401 - the library has no types
        try:
            stream = library.InputStream(
                device=device["index"],
                channels=min(2, int(device["max_input_channels"])),
                samplerate=self._rate_hz,
                dtype="float32",
                latency="low",
                callback=self._hear,
            )
            stream.start()
        except (library.PortAudioError, ValueError) as error:
            raise SoundError(
                self._address, f"The sound input {self._name} cannot be opened ({_first_line(error)}). Is it in use?"
            ) from error
        return stream

    def _hear(self, frames: np.ndarray, _count: int, _time: Any, status: Any) -> None:  # noqa: ANN401 - the same
        with self._news:
            if not self._waiting:
                return
            self._lost |= bool(status.input_overflow)
            self._blocks.append(frames.astype(np.float64))
            self._news.notify_all()


def input_names() -> tuple[str, ...]:
    """Give the names of the sound inputs of this computer.

    Raises:
        SoundError: none can be used here.
    """
    with _quiet():
        return tuple(str(device["name"]) for device in _inputs(_library("sound")))


def _library(address: str) -> Any:  # noqa: ANN401 - the library has no types
    try:
        import sounddevice  # noqa: PLC0415 - an optional extra
    except ImportError as error:
        raise SoundError(address, _NOT_INSTALLED) from error
    except OSError as error:
        raise SoundError(address, _NO_PORTAUDIO) from error
    return sounddevice


def _inputs(library: Any) -> list[dict[str, Any]]:  # noqa: ANN401 - the same
    return [device for device in library.query_devices() if device["max_input_channels"] > 0]


def _find(library: Any, name: str | None, address: str) -> dict[str, Any]:  # noqa: ANN401 - the same
    inputs = _inputs(library)
    if not inputs:
        raise SoundError(address, _NO_INPUT)
    if name is None:
        with suppress(library.PortAudioError, ValueError):
            return dict(library.query_devices(kind="input"))
        return inputs[0]
    wanted = name.casefold()
    for fits in (lambda said: said == wanted, lambda said: wanted in said):
        for device in inputs:
            if fits(str(device["name"]).casefold()):
                return device
    listed = ", ".join(str(device["name"]) for device in inputs)
    raise SoundError(address, f"This computer has no sound input called {name!r}. It has: {listed}.")


def _first_line(error: Exception) -> str:
    return str(error).splitlines()[0] if str(error) else type(error).__name__


@contextmanager
def _quiet() -> Generator[None]:
    """Keep the sound system's own chatter, written below Python, off the person's terminal."""
    try:
        saved, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    except OSError:
        yield
        return
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(saved, 2)
        os.close(saved)
        os.close(nowhere)
