"""What a detuning costs in level, against the universal resonance curve."""

import numpy as np
import pytest

from sequences.numerics.adjusters.detuning_loss import loss_db
from sequences.numerics.figures import Estimate


@pytest.mark.parametrize(
    ("lost_db", "percent_of_width"), [(0.05, 5.4), (0.1, 7.6), (0.2, 10.9), (0.5, 17.5), (1.0, 25.4), (2.0, 38.2)]
)
def test_peaking_by_meter_is_blunt(lost_db: float, percent_of_width: float) -> None:
    # From 10 log10(1 + (2 e / B)^2), computed independently; the percentages are round to a tenth.
    assert loss_db(Estimate(percent_of_width, 0.0), 100.0).value == pytest.approx(lost_db, rel=0.02)


@pytest.mark.parametrize(
    ("x", "down_db"),
    [(0.1, 0.043), (0.2, 0.170), (0.5, 0.969), (1.0, 3.010), (1.5, 5.119), (2.0, 6.990), (5.0, 14.150)],
)
def test_the_universal_resonance_curve(x: float, down_db: float) -> None:
    # Terman, Radio Engineers' Handbook (1943), sec. 3 (from memory; recomputed).
    assert loss_db(Estimate(x * 250.0, 0.0), 500.0).value == pytest.approx(down_db, abs=6e-4)


@pytest.mark.parametrize("detuning_hz", [0.0, 30.0, 120.0])
def test_the_uncertainty_of_a_loss_is_its_scatter(detuning_hz: float) -> None:
    rng = np.random.default_rng(50)
    noisy = detuning_hz + rng.normal(0.0, 10.0, 20_000)
    scatter = np.std([loss_db(Estimate(float(each), 0.0), 500.0).value for each in noisy])
    assert loss_db(Estimate(detuning_hz, 10.0), 500.0).sigma == pytest.approx(scatter, rel=0.05)
