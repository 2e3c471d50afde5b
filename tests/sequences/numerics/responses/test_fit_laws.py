"""Laws that hold for every response.

What moves the frequencies moves them alone, what moves the levels moves no frequency, and the order in which readings
are handed over means nothing where their times are told.
"""

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import PassbandFit, fit_passband

Array = NDArray[np.float64]

F0_HZ = 455e3
EXAMPLES = 25


def sweep_of(q: float, coupling: float, seed: int) -> tuple[Array, Array]:
    """Sweep one circuit (coupling 0) or two, 0.1 dB of noise; Aiken, Proc. IRE 25 (1937), from memory."""
    f = np.linspace(F0_HZ * (1 - 2.5 / q), F0_HZ * (1 + 2.5 / q), 81)
    a = q * (f / F0_HZ - F0_HZ / f)
    level = -10 * np.log10((1 + coupling**2 - a**2) ** 2 + 4 * a**2) if coupling else -10 * np.log10(1 + a**2)
    return f, level + np.random.default_rng(seed).normal(0, 0.1, f.size)


responses = st.tuples(
    st.floats(30.0, 150.0), st.sampled_from([0.0, 0.6, 1.0, 1.8]), st.integers(min_value=0, max_value=10_000)
).map(lambda drawn: sweep_of(*drawn))


def found(estimate: Estimate | None) -> Estimate:
    """Give the figure; an example without one says nothing of the law."""
    assume(estimate is not None)
    assert estimate is not None
    return estimate


def assert_same(one: PassbandFit, other: PassbandFit, *, scale: float = 1.0) -> None:
    """Centre, edges and widths agree to a small part of their own sigma, once the one is scaled."""
    for name in ("centre", "lower_3db", "upper_3db", "width_3db", "width_6db"):
        first, second = found(getattr(one, name)), found(getattr(other, name))
        assert abs(second.value - scale * first.value) < 0.02 * scale * first.sigma, name
        assert abs(second.sigma - scale * first.sigma) < 0.02 * scale * first.sigma, name


@settings(max_examples=EXAMPLES)
@given(responses, st.floats(0.01, 60.0))
def test_scaling_all_frequencies_scales_the_frequencies_alone(response: tuple[Array, Array], scale: float) -> None:
    """Detuning knows only ratios: a circuit a hundred times higher is a hundred times wider, its Q the same."""
    f, level = response

    assert_same(fit_passband(f, level), fit_passband(scale * f, level), scale=scale)


@settings(max_examples=EXAMPLES)
@given(responses, st.floats(-90.0, 90.0))
def test_more_gain_changes_no_frequency(response: tuple[Array, Array], gain_db: float) -> None:
    f, level = response
    plain, stronger = fit_passband(f, level), fit_passband(f, level + gain_db)

    assert_same(plain, stronger)
    assert abs(found(stronger.peak_level).value - found(plain.peak_level).value - gain_db) < 1e-3


@settings(max_examples=EXAMPLES)
@given(responses)
def test_handing_the_readings_over_backwards_changes_nothing(response: tuple[Array, Array]) -> None:
    """Their times go with them; without times a sweep backwards is still the same sweep."""
    f, level = response
    time_s = np.arange(f.size, dtype=float)

    assert_same(fit_passband(f, level, time_s=time_s), fit_passband(f[::-1], level[::-1], time_s=time_s[::-1]))
    assert_same(fit_passband(f, level), fit_passband(f[::-1], level[::-1]))


@settings(max_examples=EXAMPLES)
@given(responses, st.floats(-0.9, 0.9))
def test_a_further_reading_never_widens_the_interval_by_more_than_noise_explains(
    response: tuple[Array, Array], place: float
) -> None:
    """A reading that agrees can only help; but a sigma from 81 readings is known to 8 %, and kinds trade places."""
    f, level = response
    before = fit_passband(f, level)
    at = found(before.centre).value + place * found(before.width_3db).value
    assume(f[0] < at < f[-1])
    after = fit_passband(np.append(f, at), np.append(level, float(before.level_db([at])[0])))

    assert found(after.centre).sigma < 1.25 * found(before.centre).sigma
    assert found(after.width_3db).sigma < 1.25 * found(before.width_3db).sigma


@settings(max_examples=EXAMPLES)
@given(responses)
def test_what_lies_downstream_is_taken_off_exactly(response: tuple[Array, Array]) -> None:
    """A stage seen through a known curve is fitted as if it were seen alone."""
    f, level = response

    class Tilted:
        def level_db(self, frequency_hz: Array) -> Array:
            tilt: Array = -12.0 - 2e-4 * (frequency_hz - F0_HZ)
            return tilt

    assert_same(fit_passband(f, level), fit_passband(f, level + Tilted().level_db(f), downstream=Tilted()))
