"""A stage alone: what remains of a sweep when the response behind it is taken off, and what it loses."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import PassbandFit, fit_passband
from sequences.numerics.responses.stages import (
    HeldResponse,
    hump_difference,
    loss_by_mismatch,
    loss_off_centre,
    with_downstream_doubt,
)

Floats = NDArray[np.float64]

F0 = 455e3
Q = 64.0
HALF_WIDTH_HZ = F0 / 2 / Q


def pair_db(frequency_hz: Floats, centre_hz: float, coupling: float = 1.0, apart: float = 0.0) -> Floats:
    """Level of two coupled circuits, each `apart` half-widths off on either side, in dB under the most they can give.

    Aiken, Two-Mesh Tuned Coupled Circuit Filters, Proc. IRE 25 (1937), from memory: 2 kQ / |(1 + ja)(1 + jb) + kQ^2|.
    """
    a = (frequency_hz - centre_hz) / HALF_WIDTH_HZ
    low, high = 1 + 1j * (a - apart), 1 + 1j * (a + apart)
    level: Floats = 20 * np.log10(2 * coupling / np.abs(low * high + coupling**2))
    return level


def sweep_of(level_db: Floats, frequency_hz: Floats, seed: int, noise_db: float = 0.03) -> PassbandFit:
    """Fit noisy levels."""
    return fit_passband(frequency_hz, level_db + np.random.default_rng(seed).normal(0, noise_db, len(level_db)))


FREQUENCY_HZ = np.linspace(F0 - 16e3, F0 + 16e3, 81)


def test_a_stage_is_isolated_from_what_stands_behind_it() -> None:
    behind_db, stage_db = pair_db(FREQUENCY_HZ, F0 + 600.0), pair_db(FREQUENCY_HZ, F0 - 2500.0)
    total_db = behind_db + stage_db - 37.0
    behind = sweep_of(behind_db - 12.0, FREQUENCY_HZ, 1)
    noise = np.random.default_rng(2).normal(0, 0.03, len(FREQUENCY_HZ))

    stage = fit_passband(FREQUENCY_HZ, total_db + noise, downstream=HeldResponse(behind))
    found = with_downstream_doubt(stage, behind)

    assert found.centre is not None
    assert found.width_3db is not None
    assert found.peak_level is not None
    assert abs(found.centre.value - (F0 - 2500.0)) < 4 * found.centre.sigma
    assert abs(found.width_3db.value - math.sqrt(2) * F0 / Q) < 4 * found.width_3db.sigma
    assert found.peak_level.value == pytest.approx(-37.0, abs=0.2)


def test_the_doubt_of_what_was_taken_off_is_carried_into_the_stage() -> None:
    """The stage's centre scatters with what it is freed of; its stated uncertainty covers that."""
    pulls = []
    for seed in range(12):
        behind = sweep_of(pair_db(FREQUENCY_HZ, F0), FREQUENCY_HZ, 100 + seed, 0.15)
        total = pair_db(FREQUENCY_HZ, F0) + pair_db(FREQUENCY_HZ, F0)
        noisy = total + np.random.default_rng(200 + seed).normal(0, 0.05, len(FREQUENCY_HZ))
        plain = fit_passband(FREQUENCY_HZ, noisy, downstream=HeldResponse(behind))
        found = with_downstream_doubt(plain, behind)
        assert plain.centre is not None
        assert found.centre is not None
        assert found.centre.sigma > plain.centre.sigma
        pulls.append((found.centre.value - F0) / found.centre.sigma)
    assert float(np.sqrt(np.mean(np.square(pulls)))) < 1.8


def test_nothing_is_taken_off_beyond_where_it_was_measured() -> None:
    held = HeldResponse(sweep_of(pair_db(FREQUENCY_HZ, F0), FREQUENCY_HZ, 3))

    levels = held.level_db(np.array([F0 - 30e3, F0, F0 + 30e3]))

    assert np.isnan(levels[[0, 2]]).all()
    assert levels[1] == pytest.approx(0.0, abs=0.05)


def test_what_centring_gains_is_the_fall_from_the_centre() -> None:
    """2.5 half-widths off, a critical pair is down by 10 log10(1 + 2.5^4 / 4)."""
    fit = sweep_of(pair_db(FREQUENCY_HZ, F0), FREQUENCY_HZ, 4)

    loss = loss_off_centre(fit, F0 + 2.5 * HALF_WIDTH_HZ)

    assert loss is not None
    assert loss.value == pytest.approx(10 * math.log10(1 + 2.5**4 / 4), abs=0.1)
    assert loss.sigma < 0.1
    assert loss_off_centre(PassbandFit(), F0) is None


@pytest.mark.parametrize("apart", [0.0, 0.5, 0.9, 1.5])
def test_circuits_that_stand_apart_show_in_the_coupling_and_tell_what_they_lose(apart: float) -> None:
    fit = sweep_of(pair_db(FREQUENCY_HZ, F0, 1.0, apart), FREQUENCY_HZ, 5)

    loss = loss_by_mismatch(fit, math.sqrt(2) * F0 / Q)

    truth_db = -float(pair_db(np.array([F0]), F0, 1.0, apart)[0])
    assert abs(loss.value - truth_db) < 3 * loss.sigma
    assert loss.sigma < 0.6


def test_the_width_tells_the_coupling_where_the_fit_does_not() -> None:
    """A pair of kQ 1.5 is 2.0616 f/Q wide, one of kQ 1 1.4142 f/Q: from the same closed form."""
    wide = PassbandFit(width_3db=Estimate(2.0616 * F0 / Q, 20.0))

    loss = loss_by_mismatch(wide, math.sqrt(2) * F0 / Q)

    assert loss.value == pytest.approx(20 * math.log10((1 + 1.5**2) / 2), abs=0.02)
    assert loss_by_mismatch(PassbandFit(), 1e4) == Estimate(0.0, 0.0)


def test_unequal_humps_are_told_with_their_sign() -> None:
    tilted_db = pair_db(FREQUENCY_HZ, F0, 2.0) + 1.5 * (FREQUENCY_HZ - F0) / (2 * math.sqrt(3) * HALF_WIDTH_HZ)

    humps = hump_difference(sweep_of(tilted_db, FREQUENCY_HZ, 6))

    assert humps is not None
    assert humps.value == pytest.approx(1.5, abs=0.3)
    assert hump_difference(sweep_of(pair_db(FREQUENCY_HZ, F0, 0.6), FREQUENCY_HZ, 7)) is None
    assert hump_difference(PassbandFit()) is None
