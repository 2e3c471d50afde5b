"""Q and resonance against scikit-rf's Q-factor fit, which sees magnitude and phase where ours sees the level alone.

`skrf.qfactor.Qfactor` fits the Q-circle in the complex plane, after A. P. Gregory, Q-factor Measurement by using a
Vector Network Analyser, NPL Report MAT 58 (2021). The report's own measured resonator is in
`reference/npl_mat_58_figure_6b.txt`: the installed package tests itself with it but does not carry it.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import skrf
from numpy.typing import NDArray
from skrf.qfactor import Qfactor

from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import PassbandFit, fit_passband
from tests.published.responses import Array
from tests.published.spice import POINTS_DENSE, landmarks

Complex = NDArray[np.complex128]

F0 = 455e3

REFERENCE = Path(__file__).parent / "reference" / "npl_mat_58_figure_6b.txt"


def value(figure: Estimate | None) -> float:
    """The figure itself, which must be there."""
    assert figure is not None
    return figure.value


def level_db(transmission: Complex) -> Array:
    """What a meter with a linear detector makes of it."""
    return np.asarray(20 * np.log10(np.abs(transmission)))


@dataclass(frozen=True)
class QCircle:
    """What scikit-rf finds: loaded resonance and Q, and the root mean square of what its circle leaves over."""

    resonance_hz: float
    loaded_q: float
    misfit: float


def q_circle(frequency_hz: Array, transmission: Complex) -> QCircle:
    """Let scikit-rf fit a resonator seen in transmission."""
    network = skrf.Network(s=transmission.reshape(-1, 1, 1), frequency=skrf.Frequency.from_f(frequency_hz, unit="Hz"))
    found = Qfactor(network, "transmission").fit()
    return QCircle(float(found.f_L), float(found.Q_L), float(np.squeeze(found.RMS_Error)))


def tank_across_a_line(frequency_hz: Array, q: float) -> Complex:
    """S21 of an LC circuit across a 50 ohm line, which damps it to the loaded Q; by scikit-rf's network algebra."""
    line = skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(frequency_hz, unit="Hz"), z0=50)
    reactance = 25 / q
    coil, capacitor = reactance / (2 * np.pi * F0), 1 / (2 * np.pi * F0 * reactance)
    return np.asarray((line.shunt_inductor(coil) ** line.shunt_capacitor(capacitor)).s[:, 1, 0])


@pytest.mark.parametrize("q", [50, 200, 1000])
def test_a_tank_across_a_line_has_the_q_of_its_circle(q: float) -> None:
    """Noise-free; scikit-rf's circle is a narrow-band one, hence the tolerance at a Q of 50."""
    frequency_hz = np.linspace(F0 - 3 * F0 / q, F0 + 3 * F0 / q, 121)
    transmission = tank_across_a_line(frequency_hz, q)
    circle = q_circle(frequency_hz, transmission)

    fit = fit_passband(frequency_hz, level_db(transmission))

    assert fit.model == "single circuit"
    assert value(fit.loaded_q) == pytest.approx(q, rel=1e-4)
    assert value(fit.loaded_q) == pytest.approx(circle.loaded_q, rel=0.003)
    assert value(fit.peak) == pytest.approx(circle.resonance_hz, abs=0.005 * F0 / q)


def test_with_noise_both_fits_agree_within_the_stated_uncertainty() -> None:
    """Noise of one percent of the peak in each part of S21: thirty sweeps, each fitted by both.

    The circle sees twice the data, so that the two differ by no more than ours scatters.
    """
    frequency_hz = np.linspace(F0 - 4e3, F0 + 4e3, 101)
    transmission = tank_across_a_line(frequency_hz, 200)
    noise = 0.01 * np.abs(transmission).max()
    random = np.random.default_rng(20261125)

    pulls = []
    for _ in range(30):
        noisy = transmission + noise * (random.normal(size=101) + 1j * random.normal(size=101))
        circle = q_circle(frequency_hz, noisy)
        fit = fit_passband(frequency_hz, level_db(noisy), 1 / np.abs(noisy))
        assert fit.centre is not None
        assert fit.width_3db is not None
        pulls.append(
            (
                (fit.centre.value - circle.resonance_hz) / fit.centre.sigma,
                (fit.width_3db.value - circle.resonance_hz / circle.loaded_q) / fit.width_3db.sigma,
            )
        )

    spread = np.sqrt(np.mean(np.square(pulls), axis=0))
    assert np.all(spread < 1.5), spread


def tank_behind_capacitors(frequency_hz: Array, coupling_pf: float) -> Complex:
    """S21 of a tank of 100 uH, 1.2 nF and 40 kilohm fed and tapped through capacitors; by scikit-rf's algebra."""
    line = skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(frequency_hz, unit="Hz"), z0=50)
    into = line.capacitor(coupling_pf * 1e-12)
    loss = line.shunt(line.resistor(40e3) ** line.short())
    tank = line.shunt_capacitor(1.2e-9) ** line.shunt_inductor(100e-6) ** loss
    return np.asarray((into**tank**into).s[:, 1, 0])


@pytest.mark.parametrize("coupling_pf", [5.0, 20.0, 60.0])
def test_a_tank_that_leans_is_measured_as_it_is_and_never_given_another_q(coupling_pf: float) -> None:
    """More passes through a capacitor the higher the frequency: the response is a circuit's on a slope.

    Its edges are those of the solved network; its loaded Q is that of scikit-rf's circle, or there is none to tell.
    """
    middle_hz = 1 / (2 * np.pi * np.sqrt(100e-6 * (1.2e-9 + 2 * coupling_pf * 1e-12)))
    frequency_hz = np.linspace(middle_hz - 15e3, middle_hz + 15e3, 121)
    dense_hz = np.linspace(middle_hz - 15e3, middle_hz + 15e3, POINTS_DENSE)
    real = landmarks(dense_hz, level_db(tank_behind_capacitors(dense_hz, coupling_pf)))
    transmission = tank_behind_capacitors(frequency_hz, coupling_pf)

    fit = fit_passband(frequency_hz, level_db(transmission))

    assert value(fit.centre) == pytest.approx(real.centre_hz, abs=0.005 * real.width_3db_hz)
    assert value(fit.width_3db) == pytest.approx(real.width_3db_hz, rel=0.01)
    circle = q_circle(frequency_hz, transmission)
    assert fit.loaded_q is None or fit.loaded_q.value == pytest.approx(circle.loaded_q, rel=0.02)


@pytest.fixture(scope="module")
def npl() -> tuple[Array, Complex]:
    """The measured resonator: frequencies in Hz and S21."""
    real, imaginary = np.loadtxt(REFERENCE, unpack=True)
    return np.linspace(3.987323307e9, 3.988393214e9, real.size), real + 1j * imaginary


@pytest.fixture(scope="module")
def npl_fit(npl: tuple[Array, Complex]) -> PassbandFit:
    """Our fit of it, which is given the level alone."""
    return fit_passband(npl[0], level_db(npl[1]))


def test_the_measured_resonator_stands_in_the_reference_as_published(npl: tuple[Array, Complex]) -> None:
    """The report: 3.987848 GHz, loaded Q 7454; its fit leaves over 0.00001216."""
    circle = q_circle(*npl)

    assert circle.resonance_hz == pytest.approx(3.987848e9, abs=500)
    assert circle.loaded_q == pytest.approx(7454, abs=0.5)
    assert circle.misfit == pytest.approx(0.00001216, abs=5e-9)


def test_the_measured_resonator_has_the_published_frequency_and_width(npl_fit: PassbandFit) -> None:
    """535 kHz wide for a Q of 7454; from the level alone a weak leakage past it moves the centre by 0.4 % of that."""
    width_hz = 3.987848e9 / 7454

    assert value(npl_fit.width_3db) == pytest.approx(width_hz, rel=0.002)
    assert value(npl_fit.centre) == pytest.approx(3.987848e9, abs=0.005 * width_hz)
    assert value(npl_fit.centre) / value(npl_fit.width_3db) == pytest.approx(7454, rel=0.002)


def test_a_fit_of_the_level_beats_the_highest_point_of_the_measured_resonator(
    npl: tuple[Array, Complex], npl_fit: PassbandFit
) -> None:
    """The highest point alone lies 11 kHz low."""
    highest_hz = float(npl[0][np.argmax(np.abs(npl[1]))])

    assert highest_hz - 3.987848e9 == pytest.approx(-11e3, abs=500)
    assert abs(value(npl_fit.centre) - 3.987848e9) < 0.25 * abs(highest_hz - 3.987848e9)


def test_the_measured_resonator_is_never_given_another_q(npl_fit: PassbandFit) -> None:
    """Whatever kind of curve the leakage makes of it: its loaded Q is 7454, or there is none to tell."""
    assert npl_fit.loaded_q is None or npl_fit.loaded_q.value == pytest.approx(7454, rel=0.01)
