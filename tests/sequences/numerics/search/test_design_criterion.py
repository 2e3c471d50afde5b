"""The worth of a reading, against the closed forms of estimation theory for one circuit read in dB with even noise.

With x = tan(phi/2) the detuning in half-widths, the level is P - 10 log10(1 + x^2), and its derivatives are
1, (8.686/B) sin(phi) by the centre, and 4.343 (1 - cos(phi)) by ln B. Recomputed by hand from the universal resonance
curve (Terman, Radio Engineers' Handbook (1943) section 3, from memory); the information then follows by plain addition.
"""

import numpy as np
import pytest

from sequences.numerics.responses.curves import SINGLE_CIRCUIT
from sequences.numerics.search.design_criterion import Prediction, variances_removed, worst

WIDTH = 5e3
NOISE_DB = 0.5
CENTRE = 455e3
PARAMETERS = np.array([CENTRE, np.log(WIDTH), 0.0])


def predicted(x: np.ndarray[tuple[int], np.dtype[np.float64]], covariance: np.ndarray) -> Prediction:
    """Predict a single circuit at detunings x, its figures being its frequency and its width."""
    level, sensitivities = SINGLE_CIRCUIT.level_and_jacobian(PARAMETERS, CENTRE + 0.5 * WIDTH * x)
    gradients = np.array([[1.0, 0.0, 0.0], [0.0, WIDTH, 0.0]])
    return Prediction(1.0, np.array([CENTRE, WIDTH]), gradients, covariance, level, sensitivities)


def covariance_after(x: np.ndarray) -> np.ndarray:
    sensitivities = SINGLE_CIRCUIT.jacobian(PARAMETERS, CENTRE + 0.5 * WIDTH * x)
    return np.asarray(np.linalg.inv(sensitivities.T @ sensitivities / NOISE_DB**2))


def removed(x: np.ndarray, covariance: np.ndarray) -> np.ndarray:
    return variances_removed([predicted(x, covariance)], np.full(len(x), NOISE_DB))


EVEN_IN_PHI = np.tan(np.pi * (np.arange(30) + 0.5) / 30.0 - np.pi / 2.0)


def test_a_reading_tells_most_about_the_centre_at_the_half_power_points() -> None:
    x = np.linspace(-6.0, 6.0, 1201)
    gain = removed(x, covariance_after(EVEN_IN_PHI))[:, 0]
    assert abs(x[np.argmax(gain)]) == pytest.approx(1.0, abs=0.02)


def test_a_reading_at_the_top_tells_nothing_about_the_centre() -> None:
    gain = removed(np.array([0.0, 1.0]), covariance_after(EVEN_IN_PHI))[:, 0]
    assert gain[0] < 1e-3 * gain[1]


def test_a_reading_tells_most_about_the_width_at_the_top_or_far_down_the_skirts() -> None:
    x = np.array([0.0, 1.0, 30.0])
    gain = removed(x, covariance_after(EVEN_IN_PHI))[:, 1]
    assert gain[0] == pytest.approx(gain[2], rel=0.02)
    assert gain[1] < 0.02 * gain[0]


def test_the_gain_is_what_doing_it_would_gain() -> None:
    taken = np.array([-3.0, -1.2, -0.2, 0.4, 1.1, 2.5])
    before, after = covariance_after(taken), covariance_after(np.append(taken, 0.9))
    gradients = np.array([[1.0, 0.0, 0.0], [0.0, WIDTH, 0.0]])
    difference = np.diag(gradients @ (before - after) @ gradients.T)
    assert removed(np.array([0.9]), before)[0] == pytest.approx(difference, rel=1e-9)


def test_kinds_that_disagree_make_a_reading_worth_taking_where_their_levels_differ() -> None:
    nothing = np.zeros((1, 1))
    here = Prediction(0.5, np.array([0.0]), nothing, nothing, np.array([0.0, 0.0]), np.zeros((2, 1)))
    there = Prediction(0.5, np.array([2.0]), nothing, nothing, np.array([0.0, 3.0]), np.zeros((2, 1)))
    gain = variances_removed([here, there], np.array([0.5, 0.5]))[:, 0]
    # The figures differ by 2, so their mixture has variance 1; the levels at the second place by 3: variance 2.25.
    assert gain == pytest.approx([0.0, 1.5**2 / (0.5**2 + 1.5**2)])


def test_the_worst_share_rules() -> None:
    assert worst(np.array([4.0, 0.1])) == pytest.approx(4.0, rel=1e-6)
    assert worst(np.array([1.0, 1.0])) == pytest.approx(2.0**0.25)
