"""The uncertainty a counter's gate leaves."""

import numpy as np
import pytest

from sequences.numerics.oscillators.counting import count_sigma_hz

# Direct +-1/T and reciprocal t_res/T after Instrumentation Reference Book, 3rd ed., fig. 20.75.


@pytest.mark.parametrize(("gate_s", "half_width_hz"), [(0.01, 100.0), (0.1, 10.0), (1.0, 1.0), (10.0, 0.1)])
def test_a_direct_counter_is_off_by_up_to_one_cycle_in_its_gate(gate_s: float, half_width_hz: float) -> None:
    assert count_sigma_hz(455e3, gate_s) * np.sqrt(6.0) == pytest.approx(half_width_hz)


@pytest.mark.parametrize(
    ("gate_s", "frequency_hz", "half_width_hz"),
    [(0.01, 455e3, 0.455), (0.01, 14e6, 14.0), (0.1, 455e3, 0.0455), (1.0, 14e6, 0.14), (10.0, 14e6, 0.014)],
)
def test_a_reciprocal_counter_of_10_ns_is_off_by_a_share(
    gate_s: float, frequency_hz: float, half_width_hz: float
) -> None:
    assert count_sigma_hz(frequency_hz, gate_s, 10e-9) * np.sqrt(6.0) == pytest.approx(half_width_hz)


def test_a_reciprocal_counter_wins_below_the_inverse_of_its_resolution() -> None:
    assert count_sigma_hz(9e6, 1.0, 100e-9) < count_sigma_hz(9e6, 1.0)
    assert count_sigma_hz(11e6, 1.0, 100e-9) > count_sigma_hz(11e6, 1.0)


def test_counting_whole_cycles_of_tones_at_chance_phases_scatters_as_stated() -> None:
    rng = np.random.default_rng(4)
    frequency_hz = rng.uniform(900.0, 1100.0, 20_000)
    start_cycles = rng.uniform(0.0, 1.0, frequency_hz.size)
    gate_s = 0.1
    counted_hz = (np.floor(start_cycles + frequency_hz * gate_s) - np.floor(start_cycles)) / gate_s
    assert np.std(counted_hz - frequency_hz) == pytest.approx(count_sigma_hz(1000.0, gate_s), rel=0.02)


def test_a_gate_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="gate"):
        count_sigma_hz(1000.0, 0.0)
