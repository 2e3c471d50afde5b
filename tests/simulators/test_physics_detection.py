"""Detectors, gain control, noise and oscillators."""

import math

import numpy as np
import pytest

from simulators.physics.agc import ControlledDetector, ControlTimes, GainControl, advance_control
from simulators.physics.detectors import Carrier, Diode, SquareLaw, lagged, slope
from simulators.physics.noise import NoiseStream, thermal_volts
from simulators.physics.oscillators import Crystal, WarmUp, coil_oscillator_hz

DIODE = Diode(knee_volts=0.1, ceiling_volts=50.0)
LAW = GainControl(delay_volts=1.0, volts_per_volt=4.0, ceiling_volts=20.0, db_per_volt=6.0, softening=0.02)
TIMES = ControlTimes(attack_s=0.01, release_s=0.5)


def test_a_small_carrier_is_squared_and_a_large_one_followed() -> None:
    """Ten times the carrier: 40 dB of direct voltage far below the knee, 20 dB far above."""
    below = DIODE.volts(1e-3) / DIODE.volts(1e-4)
    above = DIODE.volts(10.0) / DIODE.volts(1.0)

    assert below == pytest.approx(100.0, rel=1e-3)
    assert above == pytest.approx(10.0, rel=0.02)


def test_no_carrier_can_drive_the_detector_beyond_its_valve() -> None:
    """Too much signal flattens the top."""
    assert DIODE.volts(500.0) == pytest.approx(50.0, rel=1e-3)
    assert DIODE.volts(0.0) == 0.0


def test_the_slope_is_that_of_the_law() -> None:
    """d(v^2)/dv = 2v."""
    assert slope(SquareLaw(3.0), 0.2) == pytest.approx(1.2)


def test_a_lag_covers_63_percent_in_one_time_constant() -> None:
    """And nothing is left to wait for without one."""
    assert lagged(0.0, 1.0, 0.05, 0.05) == pytest.approx(1 - math.exp(-1))
    assert lagged(0.0, 1.0, 0.0, 0.0) == 1.0


def test_gain_control_holds_the_output_once_its_delay_is_passed() -> None:
    """60 dB more carrier may raise it by a few dB only: a good receiver's law (US Army TM, print code AGO 3134, p. 79:
    10 uV to 10 mV at most 3 dB of audio; looser here).
    """  # noqa: D205 - one sentence
    detector = ControlledDetector(LAW)

    assert detector.volts(0.5) == pytest.approx(0.5)
    assert 20 * math.log10(detector.volts(3000.0) / detector.volts(3.0)) < 14.0


def test_gain_control_is_quick_to_rise_and_slow_to_fall() -> None:
    """Attack and release, the loop helping the attack along."""

    def strong(gain: float) -> float:
        return 10.0 * gain

    def weak(gain: float) -> float:
        return 0.1 * gain

    rest = LAW.equilibrium(strong)
    rising = advance_control(LAW, TIMES, 0.0, strong, 0.01)
    falling = advance_control(LAW, TIMES, rest, weak, 0.5)

    assert rising > 0.9 * rest
    assert falling == pytest.approx(rest * math.exp(-1), rel=0.05)


def test_small_steps_of_time_and_one_large_step_end_alike() -> None:
    """Whoever looks more often sees the same."""

    def detect(gain: float) -> float:
        return 5.0 * gain

    volts = 0.0
    for _ in range(200):
        volts = advance_control(LAW, TIMES, volts, detect, 0.0005)

    assert volts == pytest.approx(advance_control(LAW, TIMES, 0.0, detect, 0.1), rel=0.01)


def test_a_longer_average_flutters_less() -> None:
    """Four times the time halves it; with no average at all the whole noise is there."""
    carrier = Carrier(1.0, 0.01, 4000.0)

    assert carrier.flutter_volts(0.0) == 0.01
    assert carrier.flutter_volts(0.04) == pytest.approx(carrier.flutter_volts(0.01) / 2)


def test_thermal_noise_is_that_of_nyquist() -> None:
    """KT at 290 K is -173.975 dBm per hertz, so 50 ohm open circuit has 4kTRB: 0.895 nV per root hertz."""
    watts_available = thermal_volts(50.0, 1.0) ** 2 / (4 * 50.0)

    assert 10 * math.log10(watts_available * 1e3) == pytest.approx(-173.975, abs=0.001)


def test_noise_streams_repeat_by_seed_and_differ_by_salt() -> None:
    """One seed, one bench; each instrument has its own salt."""

    def draw(seed: int, salt: int) -> list[float]:
        stream = NoiseStream(seed, salt)
        return [stream.next() for _ in range(5000)]

    first = draw(1, 1)
    assert first == draw(1, 1)
    assert first != draw(1, 2)
    assert np.std(first) == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(
    ("change", "percent"),
    [
        (0.001, -0.04996),
        (0.01, -0.4963),
        (0.05, -2.410),
        (0.10, -4.654),
        (-0.01, 0.5038),
        (-0.05, 2.598),
        (-0.10, 5.409),
    ],
)
def test_an_oscillator_moves_by_half_of_what_its_capacitor_does(change: float, percent: float) -> None:
    """df/f = 1/sqrt(1 + dC/C) - 1, recomputed."""
    before = coil_oscillator_hz(1e-3, 100e-12, 0.0)

    after = coil_oscillator_hz(1e-3, 100e-12 * (1 + change), 0.0)

    assert (after / before - 1) * 100 == pytest.approx(percent, abs=0.0006)


def test_warm_up_fades() -> None:
    """By 1/e in each time constant."""
    warm_up = WarmUp(200.0, 600.0)

    assert warm_up.ppm(0.0) == 200.0
    assert warm_up.ppm(600.0) == pytest.approx(200.0 / math.e)


def test_a_crystal_stops_abruptly_on_one_side_and_slowly_on_the_other() -> None:
    """Its anode circuit must look inductive: a trade fact (common practice, no source)."""
    crystal = Crystal(10e6, vigour=6.0, circuit_quality=40.0, pull_ppm=1.5)
    best_hz = crystal.best_circuit_hz()
    away_hz = 0.012 * best_hz

    assert crystal.activity(best_hz) == pytest.approx(1 - 1 / 6.0)
    assert crystal.activity(best_hz - away_hz - 0.001 * best_hz) == 0.0
    assert crystal.activity(best_hz + away_hz) > 0.7
    assert crystal.activity(1.5 * best_hz) == 0.0
    assert crystal.running_hz(0.98 * best_hz, 0.0) is None


def test_a_crystals_circuit_pulls_it_by_parts_per_million_only() -> None:
    """Which is why it is a crystal."""
    crystal = Crystal(10e6, vigour=6.0, circuit_quality=40.0, pull_ppm=1.5)

    pulled_hz = crystal.running_hz(1.03 * crystal.frequency_hz, 0.0)

    assert pulled_hz is not None
    assert 0.0 < abs(pulled_hz - 10e6) < 30.0
