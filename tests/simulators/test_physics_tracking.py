"""Gang tuning against the three-point tracking formulas of the handbooks, which are nowhere used to make it.

ITT Reference Data for Radio Engineers and Terman, section 9 (from memory), worked through for L = 200 uH and exact at
600, 1000 and 1400 kHz; every figure recomputed from the closed form.
"""

import pytest

from simulators.physics.tracking import PaddedCircuit, SignalCircuit, design_oscillator

SIGNAL = SignalCircuit(200e-6, 40e-12)
EXACT_HZ = (600e3, 1000e3, 1400e3)


@pytest.mark.parametrize(
    ("if_hz", "padder_pf", "extra_trimmer_pf", "coil_uh"),
    [(455e3, 448.01, 11.23, 113.486), (465e3, 438.78, 11.41, 112.382)],
)
def test_the_three_parts_come_out_as_by_the_closed_form(
    if_hz: float, padder_pf: float, extra_trimmer_pf: float, coil_uh: float
) -> None:
    """Padder, trimmer over the signal circuit's, and coil."""
    found = design_oscillator(SIGNAL, if_hz, EXACT_HZ)

    assert found.padder_f * 1e12 == pytest.approx(padder_pf, abs=0.006)
    assert (found.trimmer_f - SIGNAL.trimmer_f) * 1e12 == pytest.approx(extra_trimmer_pf, abs=0.006)
    assert found.inductance_h * 1e6 == pytest.approx(coil_uh, abs=0.0006)


@pytest.mark.parametrize(
    ("signal_khz", "error_khz"),
    [
        (550, 3.657),
        (600, 0),
        (700, -3.566),
        (800, -3.784),
        (900, -2.204),
        (1000, 0),
        (1100, 1.934),
        (1200, 2.910),
        (1300, 2.402),
        (1400, 0),
        (1500, -4.607),
        (1600, -11.657),
    ],
)
def test_between_the_exact_points_the_error_is_that_of_the_closed_form(signal_khz: float, error_khz: float) -> None:
    """f_osc - (f + IF) at an IF of 455 kHz, to the last digit printed."""
    oscillator = design_oscillator(SIGNAL, 455e3, EXACT_HZ)

    oscillator_hz = oscillator.resonance_hz(SIGNAL.gang_farads_for(signal_khz * 1e3))

    assert oscillator_hz / 1e3 - signal_khz - 455 == pytest.approx(error_khz, abs=0.0006)


@pytest.mark.parametrize(
    ("at_khz", "per_picofarad_khz", "per_padder_percent_khz", "per_coil_percent_khz"),
    [
        (550, -0.60, -2.45, -5.01),
        (600, -0.80, -2.34, -5.24),
        (1000, -4.01, -1.70, -7.22),
        (1400, -10.35, -1.33, -9.21),
        (1600, -14.64, -1.21, -10.14),
    ],
)
def test_the_trimmer_rules_the_high_end_and_the_padder_the_low(
    at_khz: float, per_picofarad_khz: float, per_padder_percent_khz: float, per_coil_percent_khz: float
) -> None:
    """How far the oscillator moves for one picofarad and one per cent more, with 40 pF across the gang."""
    meant = design_oscillator(SIGNAL, 455e3, EXACT_HZ)
    gang_f = SIGNAL.gang_farads_for(at_khz * 1e3)

    def moved_khz(changed: PaddedCircuit) -> float:
        return (changed.resonance_hz(gang_f) - meant.resonance_hz(gang_f)) / 1e3

    coil_h, padder_f, trimmer_f = meant.inductance_h, meant.padder_f, meant.trimmer_f
    assert moved_khz(PaddedCircuit(coil_h, padder_f, trimmer_f + 1e-12)) == pytest.approx(per_picofarad_khz, abs=0.01)
    assert moved_khz(PaddedCircuit(coil_h, padder_f * 1.01, trimmer_f)) == pytest.approx(
        per_padder_percent_khz, abs=0.01
    )
    assert moved_khz(PaddedCircuit(coil_h * 1.01, padder_f, trimmer_f)) == pytest.approx(per_coil_percent_khz, abs=0.01)


def test_a_gang_position_and_its_resonance_are_each_others_inverse() -> None:
    """For both circuits on the shaft."""
    oscillator = design_oscillator(SIGNAL, 455e3, EXACT_HZ)

    assert oscillator.resonance_hz(oscillator.gang_farads_for(1.2e6)) == pytest.approx(1.2e6)
    assert SIGNAL.resonance_hz(SIGNAL.gang_farads_for(0.7e6)) == pytest.approx(0.7e6)
