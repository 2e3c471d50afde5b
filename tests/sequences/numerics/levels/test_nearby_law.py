"""The law about one voltage, and the top of a passband."""

import math

import numpy as np
import pytest

from sequences.numerics.levels.nearby_law import STEPS_DB, NearbyLaw
from sequences.numerics.levels.passband_top import passband_top

STEPS = np.array(STEPS_DB * 3)


@pytest.mark.parametrize("order", [1.0, 2.0, 0.3], ids=["linear", "square law", "held by gain control"])
@pytest.mark.parametrize(("quiet_v", "full_v"), [(0.0, 2.0), (-0.4, -3.0), (5.0, -1.0)])
def test_a_reading_near_the_target_tells_how_far_off_it_is(order: float, quiet_v: float, full_v: float) -> None:
    """A detector's voltage goes as that power of the carrier's, upwards or downwards from any quiet voltage."""

    def volts(off_db: float) -> float:
        return float(quiet_v + full_v * 10.0 ** (order * off_db / 20.0))

    law = NearbyLaw.from_steps(STEPS, np.array([volts(step) for step in STEPS]), quiet_v)

    for off_db in (-3.5, -0.7, 0.0, 2.2, 3.9):
        assert law.offset_db(volts(off_db)) == pytest.approx(off_db, abs=0.01)
    assert law.offset_db(volts(5.0)) == math.inf
    assert law.offset_db(volts(-5.0)) == -math.inf
    assert law.offset_db(quiet_v - full_v) == -math.inf


@pytest.mark.parametrize(
    "volts", [np.full(15, 3.0) + 0.01 * np.sin(np.arange(15)), np.linspace(-0.1, 0.2, 15), 2.0 - 0.1 * STEPS]
)
def test_a_meter_that_does_not_follow_the_source_makes_no_law(volts: np.ndarray) -> None:
    """Held by gain control, lost in the noise, and falling where it should rise."""
    with pytest.raises(ValueError, match="meter"):
        NearbyLaw.from_steps(STEPS, volts, 0.0)


def test_the_top_is_that_of_the_higher_of_two_humps() -> None:
    """Two humps of a coupled pair, the left one 0.4 dB higher, with noise of 0.05 dB."""
    rng = np.random.default_rng(5)
    at = np.tile(np.linspace(-1000.0, 1000.0, 17), 2)

    def level_db(frequency_hz: np.ndarray) -> np.ndarray:
        x = frequency_hz / 1000.0
        return 2.0 - 8.0 * (x**2 - 0.36) ** 2 - 0.35 * x  # a made-up curve whose humps are known

    top = passband_top(at, level_db(at) + rng.normal(0.0, 0.05, at.size))

    fine = np.linspace(-1000.0, 1000.0, 20001)
    assert top.frequency_hz == pytest.approx(float(fine[np.argmax(level_db(fine))]), abs=60.0)
    assert 0.0 < top.short_db < 0.1
