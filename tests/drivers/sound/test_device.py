"""The computer's sound input, end to end: played into a sound server's null sink, recorded through PortAudio."""

import json
import os
import subprocess
import sys
from collections.abc import Generator
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from tests.drivers.sound.null_sink import missing_programs, null_sink, playing

RATE_HZ = 48000.0
TONE_HZ = 803.7
LISTEN = (sys.executable, "-m", "server", "listen", "--json", "--for", "1s", "--between", "200Hz", "4kHz")


@pytest.fixture(scope="module")
def sink(tmp_path_factory: pytest.TempPathFactory) -> Generator[dict[str, str]]:
    lacking = bool(missing_programs()) or find_spec("sounddevice") is None
    if lacking and not os.environ.get("CI"):
        pytest.skip("PulseAudio or sounddevice is not installed")
    with null_sink(tmp_path_factory.mktemp("sound")) as environment:
        yield environment


def _listen(environment: dict[str, str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(LISTEN, env=environment, capture_output=True, text=True, timeout=120, check=False)


def test_a_tone_that_is_played_is_heard(sink: dict[str, str], tmp_path: Path) -> None:
    """The tone is 14 dB above the noise in 24 kHz; player and recorder run from one clock."""
    times_s = np.arange(int(90 * RATE_HZ)) / RATE_HZ
    hiss = np.random.default_rng(1).normal(0, 0.1 / np.sqrt(2 * 10**1.4), len(times_s))
    played = tmp_path / "tone.raw"
    played.write_bytes((0.1 * np.sin(2 * np.pi * TONE_HZ * times_s) + hiss).astype("<f4").tobytes())
    with playing(played, sink):
        heard = _listen(sink)
    figures = json.loads(heard.stdout)
    assert figures["tone_hz"] == pytest.approx(TONE_HZ, abs=0.1)
    assert figures["tone_level_dbfs"] == pytest.approx(-20.0, abs=0.5)


def test_a_silent_input_is_told(sink: dict[str, str]) -> None:
    heard = _listen(sink)
    assert heard.returncode == 1
    assert json.loads(heard.stdout)["tone_hz"] is None
    assert heard.stderr.count("\n") == 1


def test_an_input_that_is_not_there_is_told_with_those_that_are(sink: dict[str, str]) -> None:
    words = (*LISTEN, "--input", "no such input")
    heard = subprocess.run(words, env=sink, capture_output=True, text=True, timeout=120, check=False)
    assert heard.returncode == 1
    assert "no sound input called 'no such input'" in heard.stderr
    assert "pulse" in heard.stderr


def test_a_computer_without_sound_says_so_in_one_sentence(tmp_path: Path) -> None:
    bare = {**os.environ, "HOME": str(tmp_path), "PULSE_SERVER": f"unix:{tmp_path}/nothing"}
    heard = _listen(bare)
    assert heard.returncode == 1
    assert heard.stdout == ""
    assert "sound input" in heard.stderr.lower()
    assert heard.stderr.count("\n") == 1
