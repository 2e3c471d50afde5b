"""The fitting engine against certified results: Statistical Reference Datasets of NIST (StRD), nonlinear regression.

`reference/Eckerle4.dat` (one peak, higher difficulty) and `reference/Gauss2.dat` (two merged peaks on a slope, lower
difficulty) are the files as issued by the National Institute of Standards and Technology, in the public domain; each
holds its starting and certified values and, from line 61 on, its data.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from sequences.numerics.least_squares import ResidualAndJacobian, inverse_information, least_squares
from tests.published.responses import Array

FOLDER = Path(__file__).parent / "reference"


@dataclass(frozen=True)
class Certified:
    """One data set with its certified results. starts: two rows. x, y: shape (n,)."""

    starts: Array
    parameters: Array
    sigmas: Array
    cost: float
    freedom: int
    x: Array
    y: Array


def read(name: str) -> Certified:
    """Read a file as issued."""
    lines = (FOLDER / f"{name}.dat").read_text().splitlines()
    table = np.array([line.split("=")[1].split() for line in lines if line.startswith("  b")], dtype=float)
    told = {key.strip(): text for key, _, text in (line.partition(":") for line in lines[40:59])}
    y, x = np.array([line.split() for line in lines[60:]], dtype=float).T
    return Certified(
        table[:, :2].T,
        table[:, 2],
        table[:, 3],
        float(told["Residual Sum of Squares"]),
        int(told["Degrees of Freedom"]),
        x,
        y,
    )


def one_peak(data: Certified) -> ResidualAndJacobian:
    """Residuals of y = (b1/b2) exp(-((x - b3)/b2)^2 / 2), as the file states it."""

    def model(b: Array) -> tuple[Array, Array]:
        t = (data.x - b[2]) / b[1]
        curve = b[0] / b[1] * np.exp(-0.5 * t * t)
        return curve - data.y, np.column_stack((curve / b[0], curve * (t * t - 1) / b[1], curve * t / b[1]))

    return model


def two_peaks(data: Certified) -> ResidualAndJacobian:
    """Residuals of y = b1 exp(-b2 x) + b3 exp(-((x - b4)/b5)^2) + b6 exp(-((x - b7)/b8)^2), as the file states it."""

    def model(b: Array) -> tuple[Array, Array]:
        decay = np.exp(-b[1] * data.x)
        columns = [decay, -b[0] * data.x * decay]
        curve = b[0] * decay
        for height, place, width in (b[2:5], b[5:8]):
            t = (data.x - place) / width
            peak = np.exp(-t * t)
            curve = curve + height * peak
            columns += [peak, 2 * height * peak * t / width, 2 * height * peak * t * t / width]
        return curve - data.y, np.column_stack(columns)

    return model


PROBLEMS = {"Eckerle4": one_peak, "Gauss2": two_peaks}


@pytest.mark.parametrize(("name", "start"), [("Eckerle4", 2), ("Gauss2", 1), ("Gauss2", 2)])
def test_the_certified_figures_are_reached_to_eight_digits(name: str, start: int) -> None:
    """Parameters, their standard deviations and the residual sum of squares, each certified to eleven digits."""
    data = read(name)

    solution = least_squares(PROBLEMS[name](data), data.starts[start - 1], tolerance=1e-14, max_steps=500)

    sigmas = np.sqrt(np.diag(inverse_information(solution.jacobian)) * solution.cost / data.freedom)
    assert solution.converged
    assert solution.parameters == pytest.approx(data.parameters, rel=1e-8)
    assert solution.cost == pytest.approx(data.cost, rel=1e-9)
    assert sigmas == pytest.approx(data.sigmas, rel=1e-7)


def test_from_the_start_made_to_lead_astray_it_arrives_or_says_that_it_did_not() -> None:
    """Eckerle4 from a peak ten widths off, on which many solvers fail: no false arrival."""
    data = read("Eckerle4")

    solution = least_squares(one_peak(data), data.starts[0], tolerance=1e-14, max_steps=500)

    arrived = bool(np.allclose(solution.parameters, data.parameters, rtol=1e-8))
    assert solution.converged == arrived


@pytest.mark.parametrize("name", PROBLEMS)
def test_the_usual_tolerance_stops_within_a_hundredth_of_a_sigma(name: str) -> None:
    data = read(name)

    solution = least_squares(PROBLEMS[name](data), data.starts[1])

    assert solution.converged
    assert np.all(np.abs(solution.parameters - data.parameters) < 0.01 * data.sigmas)


def test_the_files_are_whole() -> None:
    """35 points, 3 parameters and 32 degrees of freedom; 250, 8 and 242, as the files say of themselves."""
    for name, points, parameters in (("Eckerle4", 35, 3), ("Gauss2", 250, 8)):
        data = read(name)
        assert (data.x.size, data.parameters.size, data.freedom) == (points, parameters, points - parameters)
