"""Sound over a socket, as the practice bench sends it.

`?` is answered with one line of JSON that says the rate. Each line that asks for so many samples is answered with
them, as 32 bit floats of one channel, once they have sounded.
"""

import json
import socket
import time
from contextlib import suppress

import numpy as np

from drivers.sound.errors import SoundError
from drivers.sound.recording import Recording

_DEADLINE_S = 5.0
_LONGEST_HEADER = 1000
_SAMPLE_BYTES = 4


class NetworkInput:
    """Sound from a TCP socket. Each recording asks for its samples; the far end makes them from that moment on."""

    def __init__(self, host: str, port: int) -> None:
        """Connect.

        Raises:
            SoundError: nobody answers there.
        """
        self._address = f"sound:tcp://{host}:{port}"
        try:
            self._link = socket.create_connection((host, port), _DEADLINE_S)
        except OSError as error:
            raise self._silent(host, port, error) from error
        try:
            self._link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._link.sendall(b"?\n")
            self._rate_hz = float(json.loads(self._line())["rate_hz"])
        except (OSError, ValueError, KeyError) as error:
            self.close()
            raise self._silent(host, port, error) from error

    def _silent(self, host: str, port: int, error: Exception) -> SoundError:
        return SoundError(self._address, f"No sound comes from {host}:{port} ({error}). Is it switched on?")

    @property
    def name(self) -> str:
        """Where it comes from."""
        return self._address

    def record(self, duration_s: float) -> Recording:
        """Ask for so much sound from now on, and wait for it.

        Raises:
            SoundError: it did not come.
        """
        wanted = max(1, round(duration_s * self._rate_hz))
        try:
            self._link.sendall(f"{wanted}\n".encode())
            data = self._exactly(wanted * _SAMPLE_BYTES, time.monotonic() + duration_s + _DEADLINE_S)
        except OSError as error:
            raise SoundError(self._address, f"The sound from {self._address} stopped ({error}).") from error
        return Recording(np.frombuffer(data, dtype="<f4").astype(np.float64), self._rate_hz)

    def close(self) -> None:
        """Hang up."""
        with suppress(OSError):
            self._link.close()

    def _line(self) -> bytes:
        line = b""
        while not line.endswith(b"\n"):
            part = self._link.recv(1)
            if not part or len(line) > _LONGEST_HEADER:
                raise ValueError("it does not say its rate")
            line += part
        return line

    def _exactly(self, count: int, until_s: float) -> bytes:
        parts = bytearray()
        while len(parts) < count:
            left_s = until_s - time.monotonic()
            if left_s <= 0:
                raise TimeoutError("no more samples came")
            self._link.settimeout(left_s)
            part = self._link.recv(min(count - len(parts), 1 << 16))
            if not part:
                raise ConnectionError("the other end hung up")
            parts += part
        return bytes(parts)
