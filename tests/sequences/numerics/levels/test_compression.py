"""AGC that flattens the top is noticed before a passband is believed."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.figures import DoubtName
from sequences.numerics.levels.compression import apparent_width_factor, detect_compression


def test_a_level_that_follows_the_source_raises_no_doubt() -> None:
    result = detect_compression([-60, -57, -54], [-20.0, -17.05, -14.0], 0.05)
    assert result.doubts == ()
    assert result.highest_linear_dbm == -54.0


def test_a_flattened_top_is_named_and_the_highest_straight_level_given() -> None:
    result = detect_compression([-50, -60, -70, -55, -65], [-13, -20, -30, -15, -25], 0.05)
    assert [doubt.name for doubt in result.doubts] == [DoubtName.COMPRESSED]
    assert "-55.0 dBm or less" in result.doubts[0].text
    assert result.top_slope is not None
    assert result.top_slope.value == pytest.approx(0.4)
    assert result.highest_linear_dbm == -55.0


def test_a_step_too_small_for_its_noise_is_said_to_be_undecided() -> None:
    result = detect_compression([-51, -50], [-14.0, -13.1], 0.3)
    assert [doubt.name for doubt in result.doubts] == [DoubtName.UNCERTAIN]


@pytest.mark.parametrize(("slope", "factor"), [(1.0, 1.0), (0.5, 1.73), (0.3, 3.01), (0.2, 5.57), (0.1, 31.98)])
def test_a_flattened_curve_looks_wider_by_the_computed_factor(slope: float, factor: float) -> None:
    # Closed form sqrt(10^(0.301/b) - 1), computed independently: half power seen through b dB per dB.
    assert apparent_width_factor(slope) == pytest.approx(factor, abs=0.01)


@given(offset_db=st.floats(-100.0, 100.0), shift_dbm=st.floats(-50.0, 50.0))
def test_neither_a_fixed_gain_nor_a_fixed_loss_changes_the_judgement(offset_db: float, shift_dbm: float) -> None:
    power, level = np.array([-60.0, -57.0, -54.0]), np.array([-20.0, -17.0, -16.0])
    plain = detect_compression(power, level, 0.05)
    moved = detect_compression(power + shift_dbm, level + offset_db, 0.05)
    assert [doubt.name for doubt in moved.doubts] == [doubt.name for doubt in plain.doubts]


def test_powers_that_give_no_slope_are_refused() -> None:
    with pytest.raises(ValueError, match="two different source powers"):
        detect_compression([-50, -50], [0, 0], 0.1)
    with pytest.raises(ValueError, match="one level for each"):
        detect_compression([-50, -40], [0], 0.1)
