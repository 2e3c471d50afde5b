"""WAV files in the sample formats that recorders write, made by Python's own writer and by SoX."""

import math
import shutil
import struct
import subprocess
import wave
from pathlib import Path

import numpy as np
import pytest
import scipy.io.wavfile

from drivers.sound.errors import SoundError
from drivers.sound.wav import WavInput, read_wav

RATE_HZ = 8000
TONE = [0.5 * math.sin(2 * math.pi * 700 * place / RATE_HZ) for place in range(800)]


@pytest.mark.parametrize("width", [1, 2, 3, 4])
def test_whole_numbers_of_any_width_have_full_scale_one(tmp_path: Path, width: int) -> None:
    path = tmp_path / "tone.wav"
    full = 2 ** (8 * width - 1)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(width)
        file.setframerate(RATE_HZ)
        offset = full if width == 1 else 0  # bytes are unsigned, all others signed
        numbers = [round(full * value) + offset for value in TONE]
        file.writeframes(b"".join(number.to_bytes(width + 1, "little", signed=True)[:width] for number in numbers))
    recording = read_wav(path)
    assert recording.rate_hz == RATE_HZ
    assert recording.samples == pytest.approx(TONE, abs=1.0 / full)


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_floats_are_taken_as_they_are(tmp_path: Path, kind: type) -> None:
    path = tmp_path / "tone.wav"
    scipy.io.wavfile.write(path, RATE_HZ, np.array(TONE, dtype=kind))
    assert read_wav(path).samples == pytest.approx(TONE, abs=1e-7)


@pytest.mark.skipif(shutil.which("sox") is None, reason="SoX is not installed")
@pytest.mark.parametrize("bits", ["8", "16", "24", "32"])
def test_what_another_program_wrote_is_read(tmp_path: Path, bits: str) -> None:
    """SoX writes 24 and 32 bits with the extensible header. Its tone of -6 dB has a peak of 0.501."""
    path = tmp_path / "tone.wav"
    subprocess.run(
        ["sox", "-D", "-r", "48000", "-n", "-b", bits, path, "synth", "0.5", "sine", "1000", "gain", "-6"], check=True
    )
    samples = read_wav(path).samples
    assert np.sqrt(2 * np.mean(samples**2)) == pytest.approx(10 ** (-6 / 20), rel=0.02)


def test_the_channel_that_carries_the_sound_counts(tmp_path: Path) -> None:
    path = tmp_path / "right.wav"
    right = np.array(TONE)
    scipy.io.wavfile.write(path, RATE_HZ, np.stack((0.001 * right, right), axis=1))
    assert read_wav(path).samples == pytest.approx(TONE)


def test_a_chunk_that_is_no_sound_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "tone.wav"
    scipy.io.wavfile.write(path, RATE_HZ, np.array(TONE))
    data = path.read_bytes() + b"note" + struct.pack("<I", 4) + b"hand"
    path.write_bytes(data[:4] + struct.pack("<I", len(data) - 8) + data[8:])
    assert len(read_wav(path).samples) == len(TONE)


@pytest.mark.parametrize("content", [b"", b"RIFF", b"not sound at all", b"RIFF\x24\x00\x00\x00WAVEfmt "])
def test_what_is_no_wav_file_is_refused_by_a_sentence(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "broken.wav"
    path.write_bytes(content)
    with pytest.raises(SoundError, match=r"broken\.wav is not a WAV file"):
        read_wav(path)


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match="No such file"):
        read_wav(tmp_path / "gone.wav")


def test_a_file_without_samples_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "empty.wav"
    scipy.io.wavfile.write(path, RATE_HZ, np.empty(0, dtype=np.int16))
    with pytest.raises(SoundError, match="no sound"):
        read_wav(path)


def test_each_recording_goes_on_where_the_last_one_ended(tmp_path: Path) -> None:
    path = tmp_path / "tone.wav"
    scipy.io.wavfile.write(path, RATE_HZ, np.array(TONE))
    sound = WavInput(path)
    first, second = sound.record(0.02).samples, sound.record(0.02).samples
    assert [*first, *second] == pytest.approx(TONE[:320])
