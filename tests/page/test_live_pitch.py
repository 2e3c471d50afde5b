"""The tones: what an error sounds like, by the mapping, by the audio graph, and by the sound it renders."""

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.page.conftest import Fake, OpenContext, serving
from tests.page.fake_live import guidance, level, open_harness, show
from tests.page.fake_service import FakeBench, Json

REFERENCE_HZ = 500.0
ERRORS_HZ = [10 ** (exponent / 8) for exponent in range(-24, 33)]
"""From a thousandth of a hertz to ten kilohertz, where 150 Hz is the good zone."""


@pytest.fixture(scope="module")
def fake() -> Iterator[Fake]:
    """One service for all of these: nothing here changes it."""
    with serving(FakeBench()) as running:
        yield running


@pytest.fixture(scope="module")
def plain(browser: Browser, fake: Fake) -> Iterator[Page]:
    """One page for the mapping."""
    opened = browser.new_page()
    open_harness(opened, fake.address)
    yield opened
    opened.close()


def tone_hz(page: Page, ratio: float, reference_hz: float = REFERENCE_HZ) -> float:
    """Ask the mapping for the error tone."""
    script = "async ([ratio, hz]) => (await import('/page/modules/live/pitch.js')).errorToneHz(ratio, hz)"
    return float(page.evaluate(script, [ratio, reference_hz]))


@pytest.mark.parametrize("side", [1, -1])
def test_a_greater_error_always_stands_farther_from_the_reference(plain: Page, side: int) -> None:
    """No dead zone and no plateau, over seven decades, on either side."""
    distances = [side * (tone_hz(plain, side * error / 150) - REFERENCE_HZ) for error in ERRORS_HZ]

    assert all(near < far for near, far in pairwise(distances))
    assert distances[0] > 0


def test_the_map_is_compressive(plain: Page) -> None:
    """Each further hertz of error moves the tone less than the one before: what is near counts most."""
    ratios = [error / 150 for error in ERRORS_HZ]
    tones = [tone_hz(plain, ratio) for ratio in ratios]
    slopes = [(high - low) / (b - a) for (a, b), (low, high) in zip(pairwise(ratios), pairwise(tones), strict=True)]

    assert all(near >= far * (1 - 1e-6) for near, far in pairwise(slopes))


def test_near_the_target_the_beat_is_slower_than_one_a_second(plain: Page) -> None:
    """And at the edge of the good zone slow enough to be counted: common practice, no source."""
    assert 0 < tone_hz(plain, 0.1) - REFERENCE_HZ < 1
    assert 0 < REFERENCE_HZ - tone_hz(plain, -0.1) < 1
    assert 1 < tone_hz(plain, 1.0) - REFERENCE_HZ < 5


def test_either_side_is_as_many_semitones_away(plain: Page) -> None:
    """Equal temperament: an interval is the logarithm of the ratio of the pitches."""
    for ratio in (0.3, 3.0, 40.0, 900.0):
        above = math.log2(tone_hz(plain, ratio) / REFERENCE_HZ)
        below = math.log2(REFERENCE_HZ / tone_hz(plain, -ratio))
        assert above == pytest.approx(below, rel=1e-6)


@pytest.mark.parametrize("reference_hz", [400, 500, 600, 700])
def test_no_tone_leaves_what_older_ears_and_small_loudspeakers_give(plain: Page, reference_hz: float) -> None:
    """Between 200 Hz and 2 kHz, where hearing is lost last (ISO 7029, from memory), up to a thousand good zones off."""
    assert 200 < tone_hz(plain, -1000, reference_hz) < tone_hz(plain, 1000, reference_hz) < 2000


@pytest.fixture
def page(new_context: OpenContext, fake: Fake) -> Page:
    """Open a page with the live area alone, the sound switched on as a person does it."""
    opened = open_harness(new_context().new_page(), fake.address)
    assert opened.evaluate("pane.sound.on") is False
    opened.get_by_role("button", name="Sound is off").click()
    expect(opened.get_by_role("button", name="Sound is on")).to_have_attribute("aria-pressed", "true")
    return opened


def heard(page: Page, told: Json) -> dict[str, Any]:
    """Give guidance, wait until the pitch has glided there, and read the frequencies back from the audio graph."""
    show(page, told)
    page.wait_for_timeout(200)
    return dict(page.evaluate("pane.sound.frequencies"))


def test_the_graph_sounds_above_for_too_high_and_below_for_too_low(page: Page) -> None:
    """With the reference steady all the while."""
    high = heard(page, guidance(error=900.0))
    low = heard(page, guidance(error=-900.0))

    assert high["reference"] == low["reference"] == REFERENCE_HZ
    assert high["error"] > REFERENCE_HZ + 10
    assert low["error"] < REFERENCE_HZ - 10
    assert high["heard"]


def test_the_beat_stands_still_at_the_target_and_only_there(page: Page) -> None:
    """A single hertz off a good zone of 150 Hz can still be heard as a slow beat, given time."""
    exact = heard(page, guidance(error=0.0, word="hold"))
    nearly = heard(page, guidance(error=1.0, word="hold"))

    assert exact["beat"] == pytest.approx(0, abs=1e-3)
    assert 0.005 < nearly["beat"] < 0.1


def test_another_scale_of_the_needle_does_not_change_the_pitch(page: Page) -> None:
    """The ear would take it for another error."""
    wide = heard(page, guidance(error=900.0, full_scale=20_000.0))
    narrow = heard(page, guidance(error=900.0, full_scale=1000.0))

    assert wide["error"] == pytest.approx(narrow["error"], abs=1e-3)


def test_without_a_limit_the_first_scale_stands_for_it(page: Page) -> None:
    """The same again when the needle changes its scale on the same adjuster."""
    wide = heard(page, guidance(error=900.0, within=None, full_scale=2000.0))
    narrow = heard(page, guidance(error=900.0, within=None, full_scale=1000.0))

    assert wide["error"] == pytest.approx(narrow["error"], abs=1e-3)


def test_within_the_limit_a_soft_octave_sounds(page: Page) -> None:
    """And outside it does not."""
    gain = "pane.sound.graph.harmonicGain.gain.value"
    heard(page, guidance(error=900.0))
    assert page.evaluate(gain) == pytest.approx(0, abs=1e-3)
    heard(page, guidance(error=90.0))
    assert page.evaluate(gain) > 0.1
    assert page.evaluate("pane.sound.graph.harmonic.frequency.value") == 2 * REFERENCE_HZ


def test_on_the_way_to_a_peak_the_pitch_rises_to_meet_the_reference(page: Page) -> None:
    """Every new best is nearer, but only a peak that has been passed is met."""
    climb = [heard(page, level(value, value))["error"] for value in (-30.0, -24.0, -18.0, -12.0)]
    assert all(low < high for low, high in pairwise(climb))
    assert climb[-1] < REFERENCE_HZ - 1

    lost = heard(page, level(-12.5, -12.0))["error"]
    past = heard(page, level(-13.0, -12.0, word="past it", target=-12.0, error=-1.0))["error"]
    back = heard(page, level(-12.05, -12.0, word="turn back", target=-12.0, error=-0.05))["error"]
    at_best = heard(page, level(-12.0, -12.0, word="hold", target=-12.0, error=0.0))["error"]
    assert lost < climb[-1]

    assert past < back < at_best == pytest.approx(REFERENCE_HZ, abs=1e-3)


def test_the_steady_tone_volume_and_mute_can_be_set(page: Page) -> None:
    """A choice of pitches from 400 to 700 Hz; muted is silent."""
    heard(page, guidance())
    page.get_by_text("Tones and step key").click()
    page.get_by_label("Pitch of the steady tone").select_option("700 Hz")
    page.get_by_label("Volume").fill("100")
    page.wait_for_timeout(300)
    loud = page.evaluate("pane.sound.graph.master.gain.value")
    assert page.evaluate("pane.sound.frequencies.reference") == pytest.approx(700, abs=0.01)
    assert loud == pytest.approx(1, abs=0.01)

    page.get_by_label("Mute").check()
    page.wait_for_timeout(400)

    assert page.evaluate("pane.sound.graph.master.gain.value") == pytest.approx(0, abs=1e-3)
    assert page.evaluate("pane.sound.frequencies.heard") is False


def test_it_falls_silent_when_there_is_nothing_to_turn(page: Page) -> None:
    """For a question, a loss of the service, and the end of guidance."""
    for silence in (
        "pane.ask({number: 1, action: 'choose', subject: 's', text: 't', answers: ['a', 'b']})",
        "pane.lost()",
        "pane.settle()",
    ):
        page.evaluate("pane.ask(null); pane.found()")
        assert heard(page, guidance())["heard"]
        page.evaluate(silence)
        page.wait_for_timeout(400)
        assert page.evaluate("pane.sound.frequencies.heard") is False
        assert page.evaluate("pane.sound.graph.master.gain.value") == pytest.approx(0, abs=1e-3)


RENDER = """async ([told, seconds]) => {
  const { SoundEngine } = await import("/page/modules/live/sound.js");
  const rate = 8000;
  const context = new OfflineAudioContext(1, rate * seconds, rate);
  const engine = new SoundEngine(() => context);
  engine.setVolume(1);
  engine.tell(told);
  await engine.start();
  return [...(await context.startRendering()).getChannelData(0)];
}"""


def rendered(page: Page, told: Json, duration_s: int = 8) -> np.ndarray:
    """Give the sound itself at 8000 samples a second, without its beginning."""
    return np.array(page.evaluate(RENDER, [told, duration_s]))[4000:]


def envelope(sound: np.ndarray) -> np.ndarray:
    """Give the loudness over time: the peak in each fiftieth of a second."""
    blocks = sound[: len(sound) // 160 * 160].reshape(-1, 160)
    return np.asarray(np.abs(blocks).max(axis=1))


def test_the_rendered_sound_holds_both_tones(plain: Page) -> None:
    """Found by a Fourier transform of the samples, not by asking the engine."""
    sound = rendered(plain, guidance(error=9000.0))
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    frequency_hz = np.fft.rfftfreq(len(sound), 1 / 8000)
    strongest = frequency_hz[np.argmax(spectrum)]
    spectrum[np.abs(frequency_hz - strongest) < 5] = 0
    second = frequency_hz[np.argmax(spectrum)]

    assert strongest == pytest.approx(REFERENCE_HZ, abs=0.3)
    assert second == pytest.approx(tone_hz(plain, 60.0), abs=0.3)


def test_the_rendered_sound_beats_near_the_target_and_stands_still_on_it(plain: Page) -> None:
    """Two tones f1 and f2 together swell and fade |f1 - f2| times a second (any textbook of acoustics)."""
    beating = envelope(rendered(plain, guidance(error=80.0, within=60.0)))
    still = envelope(rendered(plain, guidance(error=0.0, within=60.0)))
    expected_hz = tone_hz(plain, 80 / 60) - REFERENCE_HZ

    swing = np.abs(np.fft.rfft(beating - beating.mean()))
    assert np.fft.rfftfreq(len(beating), 0.02)[np.argmax(swing)] == pytest.approx(expected_hz, abs=0.15)
    assert beating.max() > 2 * beating.min()
    assert still.max() < 1.05 * still.min()
    assert still.min() > 0.1
