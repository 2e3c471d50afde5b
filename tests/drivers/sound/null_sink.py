"""A sound server of the test's own, with a sink that leads nowhere: what is played into it is heard at its monitor."""

import os
import shutil
import subprocess
import time
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

SINK = "bench"
PROGRAMS = ("pulseaudio", "pacat", "pactl")
_ALSA_TO_PULSE = "pcm.!default pulse\nctl.!default pulse\n"
_STARTING_S = 20.0


def missing_programs() -> list[str]:
    """Give the programs that the null sink needs and this machine lacks."""
    return [program for program in PROGRAMS if shutil.which(program) is None]


@contextmanager
def null_sink(home: Path) -> Generator[dict[str, str]]:
    """Run the sound server; give the environment in which a program records from it and plays to it."""
    home.mkdir(parents=True, exist_ok=True)
    (home / ".asoundrc").write_text(_ALSA_TO_PULSE)
    socket = home / "native"
    environment = {
        **os.environ,
        "HOME": str(home),
        "XDG_RUNTIME_DIR": str(home),
        "XDG_CONFIG_HOME": str(home),
        "PULSE_SERVER": f"unix:{socket}",
        "PULSE_SOURCE": f"{SINK}.monitor",
        "PULSE_SINK": SINK,
    }
    command = ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--disable-shm=yes"]
    command += [
        f"--load=module-null-sink sink_name={SINK} rate=48000",
        f"--load=module-native-protocol-unix socket={socket} auth-anonymous=1",
    ]
    with (home / "pulseaudio.log").open("wb") as log:
        server = subprocess.Popen(command, env=environment, stdout=log, stderr=log)
    try:
        _await_answer(environment, server)
        yield environment
    finally:
        server.terminate()
        server.wait(timeout=10)


def _await_answer(environment: dict[str, str], server: subprocess.Popen[bytes]) -> None:
    until_s = time.monotonic() + _STARTING_S
    while time.monotonic() < until_s and server.poll() is None:
        asked = subprocess.run(["pactl", "info"], env=environment, capture_output=True, check=False)
        if asked.returncode == 0:
            return
        time.sleep(0.1)
    raise RuntimeError("the sound server did not start")


@contextmanager
def playing(samples: Path, environment: dict[str, str]) -> Generator[None]:
    """Play a file of 32 bit floats, one channel, 48,000 a second, into the sink for as long as they last."""
    command = ["pacat", "--playback", f"--device={SINK}", "--format=float32le", "--rate=48000", "--channels=1"]
    with samples.open("rb") as file:
        player = subprocess.Popen(
            command, env=environment, stdin=file, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
    try:
        yield
    finally:
        player.kill()
        player.wait(timeout=10)
