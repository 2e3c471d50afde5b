"""The response curves against the complex circuits themselves, and their derivatives against differences."""

import numpy as np
import pytest

from sequences.numerics.arrays import Array
from sequences.numerics.responses.candidates import fit_curve
from sequences.numerics.responses.circuits import CoupledCircuits, pair_parameters
from sequences.numerics.responses.curves import (
    COUPLED_CANS,
    EQUAL_CIRCUITS,
    SKEWED_PAIR,
    SYMMETRICAL_PAIR,
    Curve,
    Lopsided,
)
from sequences.numerics.responses.flat_top import FLAT_TOPS
from sequences.numerics.responses.readings import prepare
from sequences.numerics.responses.registry import KINDS

F0, WIDTH = 455e3, 19e3
SWEEP_HZ = np.linspace(400e3, 520e3, 121)
EVERY_CURVE = (*KINDS, Lopsided(FLAT_TOPS[1]), Lopsided(EQUAL_CIRCUITS[3]))


def parameters_of(curve: Curve, shape: float = 0.15) -> Array:
    """Some parameters that every kind can have."""
    between = np.full(len(curve.parameter_names) - 3, shape)
    return np.concatenate(([F0, np.log(WIDTH)], between, [-3.0]))


@pytest.mark.parametrize("curve", EVERY_CURVE, ids=lambda curve: curve.name)
def test_derivatives_are_those_of_the_curve(curve: Curve) -> None:
    parameters = parameters_of(curve)
    jacobian = curve.jacobian(parameters, SWEEP_HZ)
    assert jacobian.shape == (SWEEP_HZ.size, parameters.size)
    for index, step in enumerate(1e-6 * np.maximum(1.0, np.abs(parameters))):
        ahead, behind = parameters.copy(), parameters.copy()
        ahead[index] += step
        behind[index] -= step
        slope = (curve.level_db(ahead, SWEEP_HZ) - curve.level_db(behind, SWEEP_HZ)) / (2.0 * step)
        assert jacobian[:, index] == pytest.approx(slope, abs=1e-5 * float(np.abs(slope).max()))


@pytest.mark.parametrize("curve", EVERY_CURVE, ids=lambda curve: curve.name)
def test_many_sets_of_parameters_at_once_give_the_same_as_one_by_one(curve: Curve) -> None:
    several = np.array([parameters_of(curve, shape) for shape in (0.05, 0.1, 0.2)])
    levels, jacobians = curve.level_and_jacobian(several, SWEEP_HZ)
    for parameters, level, jacobian in zip(several, levels, jacobians, strict=True):
        one, its_jacobian = curve.level_and_jacobian(parameters, SWEEP_HZ)
        assert level == pytest.approx(one, abs=1e-12)
        assert jacobian == pytest.approx(its_jacobian, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(
    "circuits",
    [
        CoupledCircuits(F0, 100.0, F0, 100.0, 2.0),
        CoupledCircuits(F0, 20.0, 450e3, 70.0, 1.3),
        CoupledCircuits(F0, 120.0, 457e3, 60.0, 0.0),
        CoupledCircuits(F0, 10.0, 355e3, 12.0, 0.3),
        CoupledCircuits(F0, 1e5, F0 + 2.0, 8e4, 1.1),
    ],
    ids=["over-coupled", "skewed", "stagger-tuned", "broad", "crystal-sharp"],
)
def test_any_two_circuits_are_a_skewed_pair_exactly(circuits: CoupledCircuits) -> None:
    """Against |(1 + j Q1 y1)(1 + j Q2 y2) + (kQ)^2|, which knows nothing of shapes and skews."""
    parameters = pair_parameters(circuits)
    reach = 4.0 * np.exp(parameters[1])
    frequency_hz = np.linspace(max(parameters[0] - reach, 0.2 * F0), parameters[0] + reach, 201)
    assert SKEWED_PAIR.level_db(parameters, frequency_hz) == pytest.approx(circuits.level_db(frequency_hz), abs=1e-9)


@pytest.mark.parametrize("detuning", [0.3, 1.0, 2.5])
def test_a_stagger_tuned_pair_and_a_coupled_pair_draw_the_same_curve(detuning: float) -> None:
    """Equal Q, apart by +-x half widths and not coupled, is what a coupling kQ = x makes of two alike."""
    q = 200.0
    apart = detuning / (2.0 * q)
    split = np.hypot(apart, 1.0)
    staggered = CoupledCircuits(F0 * (split + apart), q, F0 * (split - apart), q, 0.0)
    parameters = pair_parameters(staggered)
    assert parameters[3] == pytest.approx(0.0, abs=1e-9)
    even = np.delete(parameters, 3)
    assert SYMMETRICAL_PAIR.level_db(even, SWEEP_HZ) == pytest.approx(staggered.level_db(SWEEP_HZ), abs=1e-9)
    coupled = pair_parameters(CoupledCircuits(F0, q, F0, q, detuning))
    assert coupled[2] == pytest.approx(parameters[2], rel=1e-4)


@pytest.mark.parametrize("cans", COUPLED_CANS, ids=lambda curve: curve.name)
@pytest.mark.parametrize("coupling", [0.6, 1.0, 2.0, 3.0])
def test_cans_coupled_by_a_reactance_are_two_parallel_tanks_with_that_reactance(cans: Curve, coupling: float) -> None:
    """Mutual inductance or a capacitance between the tops of two equal parallel tanks, solved with complex numbers."""
    q = 100.0
    omega = 2.0 * np.pi * SWEEP_HZ
    inductance = 1e-4
    capacitance = 1.0 / ((2.0 * np.pi * F0) ** 2 * inductance)
    conductance = np.sqrt(capacitance / inductance) / q
    k = coupling / q
    if cans is COUPLED_CANS[0]:
        through = 1.0 / (1j * omega * inductance * (1.0 - k * k))
        own, mutual = conductance + 1j * omega * capacitance + through, -k * through
    else:
        mutual = -1j * omega * capacitance * k
        own = conductance + 1j * omega * capacitance + 1.0 / (1j * omega * inductance)
    level_db = 20.0 * np.log10(np.abs(mutual / (own**2 - mutual**2)))
    near = np.abs(level_db - level_db.max()) < 30.0
    start = np.delete(pair_parameters(CoupledCircuits(F0, q, F0, q, coupling)), 3)
    start[-1] = level_db[near].mean() - (cans.level_db(start, SWEEP_HZ[near])).mean() + start[-1]
    fitted = fit_curve(cans, prepare(SWEEP_HZ[near], level_db[near]), start)
    assert np.abs(fitted.residual_db).max() < 2e-3
