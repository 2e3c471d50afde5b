"""How well a frequency and a width can be known at all: the stated sigmas against closed forms and computed optima.

With x = tan(phi/2) half-widths off, the level of a single circuit is P - 10 log10(1 + x^2), and its derivatives are 1
by P, (8.686/B) sin(phi) by f0 and 4.343 (1 - cos(phi)) by ln B: the information of N readings, and so the least sigma
that any unbiased estimate can have (the Cramer-Rao bound), is a sum. Closed forms and optima were derived and computed
apart from the code. That an optimal spacing of frequencies exists for each of Q and f0: Coakley, Splett, Janezic and
Kaiser, IEEE Trans. MTT 51 (2003) 862 (abstract). Noise even in dB unless it says otherwise.
"""

import math
from collections.abc import Callable

import numpy as np
import pytest

from sequences.numerics.least_squares import inverse_information
from sequences.numerics.responses.curves import SINGLE_CIRCUIT
from sequences.numerics.responses.passband import fit_passband
from tests.published.responses import Array, frequency_at, single_db

F0, Q = 455e3, 1000.0
B = F0 / Q
PARAMETERS = np.array([F0, math.log(B), 0.0])

SigmaDb = Callable[[Array], Array]


def even(x: Array) -> Array:
    """One sigma of a reading in dB, the same everywhere."""
    return np.ones_like(x)


def in_amplitude(x: Array) -> Array:
    """The same noise in volts everywhere behind a linear detector, in units of the peak."""
    return np.asarray(20 / math.log(10) * np.sqrt(1 + x * x))


def in_power(x: Array) -> Array:
    """The same noise in volts everywhere behind a square-law detector, in units of the peak."""
    return np.asarray(10 / math.log(10) * (1 + x * x))


def sigmas(x: Array, noise: SigmaDb = even, *, share: Array | None = None) -> tuple[float, float]:
    """Sigma of f0 over B and of B over B, times the root of how many readings there are.

    share: which part of the readings is taken at each x; all alike where None.
    """
    part = np.full(x.size, 1 / x.size) if share is None else share
    jacobian = SINGLE_CIRCUIT.jacobian(PARAMETERS, frequency_at(x, F0, Q))
    covariance = inverse_information(jacobian * (np.sqrt(part) / noise(x))[:, np.newaxis])
    return math.sqrt(covariance[0, 0]) / B, math.sqrt(covariance[1, 1])


def sigma_of_f0_alone(x: float, noise: SigmaDb = even) -> float:
    """The same for f0 with half of the readings at -x and half at +x: height and width do not disturb it."""
    places = np.array([-x, x])
    slope = SINGLE_CIRCUIT.jacobian(PARAMETERS, frequency_at(places, F0, Q))[:, 0]
    return 1 / (math.sqrt(float(np.mean(np.square(slope / noise(places))))) * B)


@pytest.mark.parametrize(
    ("noise", "best_x", "least"),
    [(even, 1.0, 0.11513), (in_amplitude, 0.7071, 1.2990), (in_power, 0.5774, 0.7698)],
)
def test_the_best_two_places_for_the_centre_are_where_theory_puts_them(
    noise: SigmaDb, best_x: float, least: float
) -> None:
    """Half-power points for noise even in dB, where sigma = B s / 8.686 / sqrt N; nearer the top for the others."""
    places = np.linspace(0.3, 1.6, 1301)
    sigma = np.array([sigma_of_f0_alone(float(x), noise) for x in places])

    assert places[np.argmin(sigma)] == pytest.approx(best_x, abs=0.005)
    assert sigma.min() == pytest.approx(least, rel=1e-3)


def test_two_readings_at_the_half_power_points_leave_1_63_percent_at_a_fifth_of_a_decibel() -> None:
    assert 0.2 * sigma_of_f0_alone(1.0) / math.sqrt(2) == pytest.approx(0.0163, abs=5e-5)


@pytest.mark.parametrize(
    ("noise", "x", "centre_share", "least"),
    [
        (in_amplitude, 1.732, 1 / 3, 4.000),
        (in_power, 2**0.25, 1 - 1 / math.sqrt(2), 1.5 + math.sqrt(2)),
        (even, 1e4, 1 / 2, 0.23026),
    ],
)
def test_the_best_places_for_the_width_are_the_top_and_the_skirts(
    noise: SigmaDb, x: float, centre_share: float, least: float
) -> None:
    """A third, 0.293 or half at the top, the rest on both skirts; no other division or place does better."""
    assert width_sigma(x, centre_share, noise) == pytest.approx(least, rel=1e-3)
    for other_x, other_share in ((0.8 * x, centre_share), (x, centre_share - 0.1), (x, centre_share + 0.1)):
        assert width_sigma(other_x, other_share, noise) > least * (1 - 1e-4)


def width_sigma(x: float, centre_share: float, noise: SigmaDb) -> float:
    """Sigma of B over B times the root of N, with a share at the top and the rest evenly at -x and +x."""
    skirt = (1 - centre_share) / 2
    return wide(np.array([-x, 0.0, x]), np.array([skirt, centre_share, skirt]), noise)


def wide(x: Array, share: Array, noise: SigmaDb) -> float:
    """As `sigmas`, in a circuit of so high a Q that skirts ten thousand half-widths off are narrow band still."""
    q = 1e9
    parameters = np.array([F0, math.log(F0 / q), 0.0])
    jacobian = SINGLE_CIRCUIT.jacobian(parameters, frequency_at(x, F0, q))
    return math.sqrt(inverse_information(jacobian * (np.sqrt(share) / noise(x))[:, np.newaxis])[1, 1])


@pytest.mark.parametrize(
    ("noise", "x", "centre", "width"),
    [
        (even, math.sqrt(3), 0.16282, 0.32563),
        (in_amplitude, 1.0, 1.732, 4.899),
        (in_power, math.sqrt(0.6), 1.012, 3.488),
    ],
)
def test_equal_thirds_at_the_top_and_both_sides_leave_the_computed_sigmas(
    noise: SigmaDb, x: float, centre: float, width: float
) -> None:
    """The D-optimal design: top and +-6.02, +-3.01 or +-2.04 dB."""
    assert sigmas(np.array([-x, 0.0, x]), noise) == pytest.approx((centre, width), rel=1e-3)


@pytest.mark.parametrize("readings", [3, 5, 16, 31])
def test_any_number_of_readings_evenly_spaced_in_phase_is_as_good(readings: int) -> None:
    """The curve is a first-order Fourier series in phi."""
    x = np.tan(np.pi * (np.arange(readings) + 0.37) / readings - np.pi / 2)

    assert sigmas(x) == pytest.approx((0.16282, 0.32563), rel=1e-3)


def test_the_least_readings_for_a_percent_are_33_and_for_both_figures_66() -> None:
    """1 % centre at 0.5 dB: 33.14 readings at the half-power points. With 2 % width too: 66.27.

    The latter is 2 (s / (4.343 x 0.02))^2 from sin^2 + cos^2 = 1: no design, however spread, needs fewer.
    """
    assert (0.5 * sigma_of_f0_alone(1.0) / 0.01) ** 2 == pytest.approx(33.14, abs=0.01)

    random = np.random.default_rng(3)
    designs = [random.standard_cauchy(random.integers(3, 30)) for _ in range(300)]
    designs.append(np.tan(np.pi * (np.arange(30) + 0.5) / 30 - np.pi / 2))
    needed = [max((0.5 * centre / 0.01) ** 2, (0.5 * width / 0.02) ** 2) for centre, width in map(sigmas, designs)]
    assert min(needed) == pytest.approx(66.27, rel=1e-3)


@pytest.mark.parametrize(
    ("span", "centre", "width"), [(2, 0.137, 0.434), (4, 0.156, 0.394), (10, 0.220, 0.483), (20, 0.300, 0.629)]
)
def test_an_even_sweep_over_so_many_widths_leaves_the_computed_sigmas(span: float, centre: float, width: float) -> None:
    """Sigma of f0 over B s, and of B over B s, times the root of the number of readings."""
    assert sigmas(np.linspace(-span, span, 20_001)) == pytest.approx((centre, width), abs=6e-4)


@pytest.mark.parametrize(
    ("noise", "for_centre", "for_width"), [(even, 1.8, 3.5), (in_amplitude, 1.2, 2.4), (in_power, 0.95, 1.7)]
)
def test_the_best_span_of_an_even_sweep_is_the_computed_one(
    noise: SigmaDb, for_centre: float, for_width: float
) -> None:
    """In widths B: wider for the width than for the centre."""
    spans = np.arange(0.6, 5, 0.02)
    found = np.array([sigmas(np.linspace(-span, span, 2001), noise) for span in spans])

    best = spans[np.argmin(found, axis=0)]
    assert best == pytest.approx([for_centre, for_width], abs=0.06)


# An even sweep over four widths, and one evenly spaced in phase: factors of the tables above.
@pytest.mark.parametrize(
    ("x", "centre", "width"),
    [
        (np.linspace(-4, 4, 81), 0.156, 0.394),
        (np.tan(np.pi * (np.arange(60) + 0.5) / 60 - np.pi / 2), 0.16282, 0.32563),
    ],
    ids=["even sweep", "evenly in phase"],
)
def test_a_fit_comes_near_the_limit_and_states_its_scatter(x: Array, centre: float, width: float) -> None:
    """Three hundred sweeps at 0.2 dB against the Cramer-Rao bound of a circuit known to be single.

    The fit is not told what it sees: that costs the centre nothing to speak of, and the width up to a third where the
    readings lie badly for telling a single circuit from a pair. What it costs is in the stated sigmas.
    """
    frequency_hz, level_db = frequency_at(x, F0, Q), single_db(x)
    random = np.random.default_rng(20261125)
    bound_hz = 0.2 * B * np.array([centre, width]) / math.sqrt(x.size)

    errors, stated = [], []
    for _ in range(300):
        fit = fit_passband(frequency_hz, level_db + random.normal(0, 0.2, x.size))
        assert fit.centre is not None
        assert fit.width_3db is not None
        errors.append((fit.centre.value - F0, fit.width_3db.value - B))
        stated.append((fit.centre.sigma, fit.width_3db.sigma))

    # The scatter of 300 is known to 4 %.
    over_bound = np.std(errors, axis=0) / bound_hz
    assert np.all(over_bound > 0.88), over_bound
    assert over_bound[0] < 1.12
    assert over_bound[1] < 1.35
    pulls = np.array(errors) / np.array(stated)
    assert np.sqrt(np.mean(np.square(pulls), axis=0)) == pytest.approx([1, 1], abs=0.15)
