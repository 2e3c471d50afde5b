"""Which sound input a name means: a WAV file, a socket, or an input of this computer."""

from pathlib import Path
from urllib.parse import urlsplit

from drivers.sound.device import DeviceInput
from drivers.sound.errors import SoundError
from drivers.sound.network import NetworkInput
from drivers.sound.recording import SoundInput
from drivers.sound.wav import WavInput


def open_sound_input(name: str | None = None) -> SoundInput:
    """Open a sound input: `FILE.wav`, `tcp://HOST:PORT`, the name of an input, or None for the system's default.

    Raises:
        SoundError: it cannot be opened; the sentence says why.
    """
    if not name:
        return DeviceInput()
    if name.startswith("tcp://"):
        return _over_network(name)
    if name.casefold().endswith((".wav", ".wave")):
        return WavInput(Path(name))
    return DeviceInput(name)


def _over_network(name: str) -> SoundInput:
    try:
        place = urlsplit(name)
        host, port = place.hostname, place.port
    except ValueError:
        host, port = None, None
    if host is None or port is None:
        raise SoundError(f"sound:{name}", f"{name!r} is not a sound input; write tcp://HOST:PORT.")
    return NetworkInput(host, port)
