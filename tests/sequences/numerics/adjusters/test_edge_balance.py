"""Edge balance: a signed detuning from two edge readings."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from sequences.numerics.adjusters.edge_balance import (
    HopPoints,
    KnownCircuit,
    Window,
    even_noise_db,
    hop_points,
    judge_window,
    read_edges,
    window_share,
)
from sequences.numerics.figures import DoubtName, Estimate
from sequences.numerics.responses.passband import fit_passband

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Single:
    """The universal resonance curve near resonance: 10 log10(1 + x^2) down at x half-widths (Terman 1943, sec. 3)."""

    centre_hz: float
    width_hz: float
    top_db: float = 0.0

    def level_db(self, frequency_hz: Floats) -> Floats:
        """Level at each frequency."""
        x = 2.0 * (frequency_hz - self.centre_hz) / self.width_hz
        return np.asarray(self.top_db - 10.0 * np.log10(1.0 + x * x))


@dataclass(frozen=True)
class CriticalPair:
    """Two equal circuits critically coupled: 10 log10(1 + a^4 / 4) down (Aiken 1937, kQ = 1), B = 1.4142 f0/Q."""

    centre_hz: float
    width_hz: float

    def level_db(self, frequency_hz: Floats) -> Floats:
        """Level at each frequency."""
        a = 2.0 * math.sqrt(2.0) * (frequency_hz - self.centre_hz) / self.width_hz
        return np.asarray(-10.0 * np.log10(1.0 + a**4 / 4.0))


TARGET_HZ, WIDTH_HZ = 60_000.0, 500.0
AS_FITTED = KnownCircuit(Single(60_180.0, WIDTH_HZ, top_db=-12.0), 60_180.0, WIDTH_HZ, TARGET_HZ)


@pytest.fixture(scope="module")
def points() -> HopPoints:
    """The best hop points of the circuit as fitted."""
    return hop_points(AS_FITTED)


def read(detuning_hz: float, points: HopPoints, sigma_db: float = 0.1) -> tuple[Estimate, Estimate]:
    """Read both edges of the same circuit, tuned to target + detuning."""
    now = Single(TARGET_HZ + detuning_hz, WIDTH_HZ, top_db=-12.0)
    lower, upper = now.level_db(np.array([points.lower_hz, points.upper_hz]))
    return Estimate(float(lower), sigma_db), Estimate(float(upper), sigma_db)


@pytest.mark.parametrize(
    ("noise_db", "half_widths"),
    [
        (even_noise_db, 1.0),
        (lambda level_db: 10.0 ** (-level_db / 20.0), 0.7071),
        (lambda level_db: 10.0 ** (-level_db / 10.0), 0.5774),
    ],
)
def test_the_best_hop_points_of_a_single_circuit(noise_db: Callable[[Floats], Floats], half_widths: float) -> None:
    # Optimal designs for the centre of one Lorentzian under even noise in dB, in amplitude and in power; computed
    # from the information matrix (compare Coakley et al., IEEE Trans. MTT 51, 862, 2003, on optimal spacing).
    points = hop_points(AS_FITTED, noise_db)
    assert points.upper_hz - TARGET_HZ == pytest.approx(half_widths * WIDTH_HZ / 2.0, rel=0.01)
    assert TARGET_HZ - points.lower_hz == pytest.approx(half_widths * WIDTH_HZ / 2.0, rel=0.01)


def test_two_readings_at_the_half_power_points_are_as_sharp_as_theory_allows(points: HopPoints) -> None:
    # sigma(f0) = B s / (8.686 sqrt N): 0.2 dB of noise and two readings give 1.63 % of the width.
    result = read_edges(AS_FITTED, points, *read(0.0, points, 0.2))
    assert result.detuning_hz is not None
    assert result.detuning_hz.sigma / WIDTH_HZ == pytest.approx(0.0163, abs=2e-4)


@given(detuning_hz=st.floats(-240.0, 240.0))
def test_the_detuning_comes_back_with_its_sign(points: HopPoints, detuning_hz: float) -> None:
    result = read_edges(AS_FITTED, points, *read(detuning_hz, points))
    assert result.detuning_hz is not None
    assert result.detuning_hz.value == pytest.approx(detuning_hz, abs=0.01)
    assert result.sense in {0, int(np.sign(detuning_hz))}


@given(gain_db=st.floats(-2.5, 60.0))
def test_a_change_of_gain_common_to_both_edges_changes_nothing(points: HopPoints, gain_db: float) -> None:
    lower, upper = read(90.0, points)
    plain = read_edges(AS_FITTED, points, lower, upper)
    moved = read_edges(AS_FITTED, points, Estimate(lower.value + gain_db, 0.1), Estimate(upper.value + gain_db, 0.1))
    assert plain.detuning_hz is not None
    assert moved.detuning_hz is not None
    assert moved.detuning_hz.value == pytest.approx(plain.detuning_hz.value, abs=1e-6)


def test_a_flat_topped_pair_is_balanced_on_its_skirts() -> None:
    circuit = KnownCircuit(CriticalPair(470e3, 9e3), 470e3, 9e3, 470e3)
    points = hop_points(circuit)
    assert points.upper_hz - 470e3 > 4.5e3
    now = CriticalPair(470_300.0, 9e3)
    lower, upper = (Estimate(float(v), 0.1) for v in now.level_db(np.array([points.lower_hz, points.upper_hz])))
    result = read_edges(circuit, points, lower, upper)
    assert result.detuning_hz is not None
    assert result.detuning_hz.value == pytest.approx(300.0, abs=0.1)


@pytest.mark.parametrize("sigma_db", [0.05, 0.2, 0.5])
def test_95_of_100_intervals_cover_the_detuning(points: HopPoints, sigma_db: float) -> None:
    rng = np.random.default_rng(21)
    inside = []
    for _ in range(800):
        detuning_hz = float(rng.uniform(-150.0, 150.0))
        lower, upper = read(detuning_hz, points)
        noise_db = rng.normal(0.0, sigma_db, 2)
        result = read_edges(
            AS_FITTED,
            points,
            Estimate(lower.value + float(noise_db[0]), sigma_db),
            Estimate(upper.value + float(noise_db[1]), sigma_db),
        )
        assert result.detuning_hz is not None
        inside.append(abs(result.detuning_hz.value - detuning_hz) <= 1.96 * result.detuning_hz.sigma)
    assert 0.93 <= np.mean(inside) <= 0.97


@pytest.mark.parametrize(("detuning_hz", "sense"), [(700.0, 1), (-900.0, -1), (5000.0, 1)])
def test_a_circuit_off_beyond_its_own_edges_gets_no_number_but_a_direction(
    points: HopPoints, detuning_hz: float, sense: int
) -> None:
    result = read_edges(AS_FITTED, points, *read(detuning_hz, points, 0.05))
    assert result.detuning_hz is None
    assert result.sense == sense
    assert [doubt.name for doubt in result.doubts] == [DoubtName.OFF_THE_CURVE]


def test_where_the_window_is_narrower_the_reading_is_refused_and_says_what_to_do(points: HopPoints) -> None:
    result = read_edges(AS_FITTED, points, *read(100.0, points), window=Window(width_hz=450.0))
    assert result.detuning_hz is None
    assert result.sense == 0
    assert [doubt.name for doubt in result.doubts] == [DoubtName.NOT_NARROWEST]
    doubt = judge_window(9000.0, 2000.0)
    assert doubt is not None
    assert "9 kHz wide" in doubt.text
    assert "window of 2 kHz" in doubt.text


@pytest.mark.parametrize("window_hz", [600.0, 1000.0, 2000.0])
def test_a_mistuned_window_pulls_the_balance_by_its_share(points: HopPoints, window_hz: float) -> None:
    off_hz = 5.0
    window = Single(TARGET_HZ + off_hz, window_hz)
    lower, upper = read(0.0, points)
    seen = window.level_db(np.array([points.lower_hz, points.upper_hz]))
    result = read_edges(
        AS_FITTED,
        points,
        Estimate(lower.value + float(seen[0]), 0.0),
        Estimate(upper.value + float(seen[1]), 0.0),
        Window(window_hz, centre_sigma_hz=off_hz),
    )
    assert result.detuning_hz is not None
    assert result.detuning_hz.value == pytest.approx(window_share(WIDTH_HZ, window_hz) * off_hz, rel=0.02)
    assert result.detuning_hz.sigma == pytest.approx(window_share(WIDTH_HZ, window_hz) * off_hz, rel=0.02)


def test_a_window_whose_curve_is_known_is_taken_off(points: HopPoints) -> None:
    window = Single(TARGET_HZ + 60.0, 800.0)
    seen = window.level_db(np.array([points.lower_hz, points.upper_hz]))
    lower, upper = read(-80.0, points)
    result = read_edges(
        AS_FITTED,
        points,
        Estimate(lower.value + float(seen[0]), 0.1),
        Estimate(upper.value + float(seen[1]), 0.1),
        Window(800.0, curve=window),
    )
    assert result.detuning_hz is not None
    assert result.detuning_hz.value == pytest.approx(-80.0, abs=0.01)
    assert result.doubts == ()


def test_a_window_not_much_wider_is_doubted(points: HopPoints) -> None:
    result = read_edges(AS_FITTED, points, *read(20.0, points), window=Window(width_hz=700.0))
    assert result.detuning_hz is not None
    assert [doubt.name for doubt in result.doubts] == [DoubtName.NOT_NARROWEST]


def test_a_level_that_is_not_a_number_is_refused(points: HopPoints) -> None:
    result = read_edges(AS_FITTED, points, Estimate(math.nan, 0.1), Estimate(-15.0, 0.1))
    assert [doubt.name for doubt in result.doubts] == [DoubtName.NOT_A_NUMBER]


def test_a_circuit_known_only_from_its_noisy_sweep_is_balanced_as_well() -> None:
    rng = np.random.default_rng(22)
    found = Single(60_180.0, WIDTH_HZ, top_db=-12.0)
    sweep_hz = np.linspace(59_300.0, 61_100.0, 61)
    fit = fit_passband(sweep_hz, found.level_db(sweep_hz) + rng.normal(0.0, 0.1, sweep_hz.size))
    assert fit.centre is not None
    assert fit.width_3db is not None
    circuit = KnownCircuit(fit, fit.centre.value, fit.width_3db.value, TARGET_HZ)
    hops = hop_points(circuit)
    # The sweep leaves the width uncertain by 2 %, one sigma.
    assert hops.upper_hz - TARGET_HZ == pytest.approx(WIDTH_HZ / 2.0, rel=0.06)
    for detuning_hz in (-120.0, 0.0, 120.0):
        result = read_edges(circuit, hops, *read(detuning_hz, hops, 0.05))
        assert result.detuning_hz is not None
        assert result.detuning_hz.value == pytest.approx(detuning_hz, abs=5.0)


def test_the_sentence_says_how_far_and_which_way(points: HopPoints) -> None:
    assert "100.0 ± 8.7 Hz" in read_edges(AS_FITTED, points, *read(100.0, points)).text
    assert "too high" in read_edges(AS_FITTED, points, *read(100.0, points)).text
    assert "on its frequency" in read_edges(AS_FITTED, points, *read(1.0, points)).text


@pytest.mark.parametrize("widths", [-1.2, -0.9, -0.75, 0.75, 0.9, 1.2, 2.0])
def test_a_circuit_past_where_its_edges_differ_most_is_not_taken_for_a_nearer_one(
    points: HopPoints, widths: float
) -> None:
    """Of a single circuit hopped at 3 dB the edges differ as much x and 1 / (2 x) widths off: 0.9 looks like 0.556."""
    result = read_edges(AS_FITTED, points, *read(widths * WIDTH_HZ, points, 0.1))
    assert result.detuning_hz is None
    assert result.sense == np.sign(widths)
    assert [doubt.name for doubt in result.doubts] == [DoubtName.OFF_THE_CURVE]


def test_up_to_half_a_width_off_the_detuning_is_told(points: HopPoints) -> None:
    for widths in (-0.55, -0.3, 0.45, 0.55):
        result = read_edges(AS_FITTED, points, *read(widths * WIDTH_HZ, points, 0.1))
        assert result.detuning_hz is not None
        assert result.detuning_hz.value == pytest.approx(widths * WIDTH_HZ, abs=1.0)
