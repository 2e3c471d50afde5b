"""`peakwright listen` on WAV files whose truth is known."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import scipy.io.wavfile

from tests.sequences.numerics.sound.records import hum, noise, tone

RATE_HZ = 48000
KEYS = {
    "tone_hz",
    "tone_sigma_hz",
    "tone_level_dbfs",
    "tone_level_sigma_db",
    "noise_level_dbfs",
    "noise_edge_hz",
    "noise_edge_sigma_hz",
    "clipped",
    "doubts",
}


def _listen(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "server", "listen", *words], capture_output=True, text=True, timeout=120, check=False
    )


@pytest.fixture
def beat(tmp_path: Path) -> Path:
    """A beat of 812.34 Hz, 14 dB above the noise in 24 kHz, under hum; 16 bit."""
    dice = np.random.default_rng(1)
    samples = tone(812.34, 0.1, 1.0, RATE_HZ, dice) + noise(0.1, 14.0, 1.0, RATE_HZ, dice)
    samples += hum(50.02, 0.3, 1.0, RATE_HZ, dice)
    path = tmp_path / "beat.wav"
    scipy.io.wavfile.write(path, RATE_HZ, np.round(samples * 32767).astype(np.int16))
    return path


def test_json_has_the_keys_that_are_documented(beat: Path) -> None:
    done = _listen("--input", str(beat), "--json", "--between", "200Hz", "4kHz")
    figures = json.loads(done.stdout)
    assert done.returncode == 0
    assert done.stderr == ""
    assert set(figures) == KEYS
    assert abs(figures["tone_hz"] - 812.34) < 4 * figures["tone_sigma_hz"] < 0.01
    assert abs(figures["tone_level_dbfs"] + 20.0) < 4 * figures["tone_level_sigma_db"] < 0.1
    # of the noise in 24 kHz, 3.8 kHz lie between the two
    assert figures["noise_level_dbfs"] == pytest.approx(-34.0 + 10 * np.log10(3800 / 24000), abs=0.2)
    assert figures["clipped"] is False


def test_without_json_a_person_reads_lines(beat: Path) -> None:
    done = _listen("--input", str(beat))
    assert done.returncode == 0
    assert "Tone         812.3" in done.stdout
    assert "Hum          50.02 Hz" in done.stdout


def test_no_tone_is_null_status_one_and_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "noise.wav"
    scipy.io.wavfile.write(path, RATE_HZ, np.random.default_rng(2).normal(0, 0.1, RATE_HZ).astype(np.float32))
    done = _listen("--input", str(path), "--json")
    assert done.returncode == 1
    assert json.loads(done.stdout)["tone_hz"] is None
    assert done.stderr.startswith("No tone stands above the noise")
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--input", "gone.wav"), "gone.wav cannot be read"),
        (("--input", "gone.wav", "--for", "soon"), "--for: 'soon' is not a time"),
        (("--input", "gone.wav", "--for", "0"), "--for: '0' must be longer than 0 s."),
        (("--input", "gone.wav", "--between", "4kHz", "200Hz"), "--between: the first frequency must be below"),
        (("--input", "tcp://nowhere"), "is not a sound input"),
    ],
)
def test_what_is_wrong_is_one_sentence(words: tuple[str, ...], said: str) -> None:
    done = _listen(*words)
    assert done.returncode == 1
    assert said in done.stderr
    assert done.stderr.count("\n") == 1


def test_only_so_much_of_a_file_as_asked_is_listened_to(tmp_path: Path) -> None:
    dice = np.random.default_rng(3)
    parts = [tone(500.0, 0.3, 0.5, 8000.0, dice), tone(900.0, 0.6, 0.5, 8000.0, dice)]
    path = tmp_path / "two.wav"
    scipy.io.wavfile.write(path, 8000, np.concatenate(parts) + dice.normal(0, 0.01, 8000))
    done = _listen("--input", str(path), "--json", "--for", "500ms")
    assert json.loads(done.stdout)["tone_hz"] == pytest.approx(500.0, abs=0.1)


def test_a_file_too_short_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "short.wav"
    scipy.io.wavfile.write(path, 8000, np.zeros(20, dtype=np.float32))
    done = _listen("--input", str(path))
    assert done.returncode == 1
    assert "too short" in done.stderr
