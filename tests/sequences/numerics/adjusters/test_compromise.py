"""One adjuster for several bands: the setting whose worst band is best."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from sequences.numerics.adjusters.compromise import BandSteps, find_compromise
from sequences.numerics.figures import DoubtName

SETTINGS = tuple(np.linspace(0.0, 12.0, 13))


def band(
    name: str, best: float, height: float, bend: float, *, sigma: float = 0.01, floor: float | None = None
) -> BandSteps:
    """A band whose figure is a parabola of the setting."""
    figure = tuple(height - bend * (setting - best) ** 2 for setting in SETTINGS)
    return BandSteps(name, SETTINGS, figure, sigma, floor)


def test_two_alike_bands_meet_halfway() -> None:
    result = find_compromise([band("4.5", 4.0, 5.0, 0.1), band("6", 8.0, 5.0, 0.1)], as_found=4.0)
    assert result.setting == pytest.approx(6.0, abs=0.05)
    # By symmetry each stands 2 settings from its best: 5 - 0.1 * 4.
    assert result.worst.value == pytest.approx(4.6, abs=0.02)
    gains = {outcome.name: outcome.gain.value for outcome in result.bands}
    losses = {outcome.name: outcome.loss.value for outcome in result.bands}
    assert gains["4.5"] == pytest.approx(-0.4, abs=0.02)
    assert gains["6"] == pytest.approx(1.2, abs=0.02)
    assert losses["4.5"] == pytest.approx(0.4, abs=0.02)
    assert losses["6"] == pytest.approx(0.4, abs=0.02)


@given(
    best=st.tuples(st.floats(2.0, 10.0), st.floats(2.0, 10.0), st.floats(2.0, 10.0)),
    height=st.tuples(st.floats(3.0, 6.0), st.floats(3.0, 6.0), st.floats(3.0, 6.0)),
)
def test_the_worst_band_is_as_good_as_a_general_minimiser_makes_it(
    best: tuple[float, ...], height: tuple[float, ...]
) -> None:
    def worst(setting: float) -> float:
        return min(h - 0.1 * (setting - b) ** 2 for b, h in zip(best, height, strict=True))

    bands = [band(str(n), b, h, 0.1) for n, (b, h) in enumerate(zip(best, height, strict=True))]
    result = find_compromise(bands, as_found=0.0)
    starts = [
        minimize_scalar(lambda s: -worst(s), bounds=(a, a + 3.0), method="bounded").x for a in (0.0, 3.0, 6.0, 9.0)
    ]
    assert worst(result.setting) == pytest.approx(max(worst(float(s)) for s in starts), abs=0.03)


@given(up=st.floats(-50.0, 50.0), along=st.floats(-50.0, 50.0))
def test_the_zero_of_figures_and_of_settings_does_not_matter(up: float, along: float) -> None:
    plain = [band("8.5", 4.0, 5.0, 0.1), band("12", 8.0, 4.8, 0.07)]
    moved = [BandSteps(b.name, [s + along for s in b.setting], [f + up for f in b.figure], b.sigma) for b in plain]
    here = find_compromise(plain, as_found=2.0)
    there = find_compromise(moved, as_found=2.0 + along)
    assert there.setting - along == pytest.approx(here.setting, abs=0.04)
    assert [o.gain.value for o in there.bands] == pytest.approx([o.gain.value for o in here.bands], abs=0.02)


def test_a_setting_as_good_as_the_best_within_the_noise_is_left_alone() -> None:
    bands = [band("4.5", 4.0, 5.0, 0.1, sigma=0.2), band("6", 8.0, 5.0, 0.1, sigma=0.2)]
    result = find_compromise(bands, as_found=5.9)
    assert result.leave_as_found
    assert result.setting == 5.9
    assert result.lowest < 5.9 < result.highest
    assert all(outcome.gain.value == 0.0 for outcome in result.bands)
    assert "Leave the adjuster" in result.text


def test_a_band_under_its_floor_is_named() -> None:
    bands = [band("16", 2.0, 5.0, 0.2, floor=3.0), band("25.5", 10.0, 3.5, 0.2, floor=3.0)]
    result = find_compromise(bands, as_found=2.0, unit="V")
    assert {doubt.name for doubt in result.doubts} == {DoubtName.UNDER_FLOOR}
    assert any("25.5" in doubt.text and "floor of 3 V" in doubt.text for doubt in result.doubts)


def test_a_band_too_close_to_its_floor_is_said_to_be_so() -> None:
    bands = [band("16", 5.0, 3.0, 0.2, sigma=0.05, floor=3.0), band("25.5", 5.0, 5.0, 0.2, sigma=0.05, floor=3.0)]
    result = find_compromise(bands, as_found=5.0)
    assert [outcome.under_floor for outcome in result.bands] == [None, False]
    assert "too close" in result.doubts[0].text


def test_a_compromise_at_the_end_of_the_settings_asks_for_more() -> None:
    result = find_compromise([band("4.5", 14.0, 5.0, 0.1)], as_found=3.0)
    assert [doubt.name for doubt in result.doubts] == [DoubtName.NOT_BRACKETED]
    assert "highest setting" in result.doubts[0].text


def test_a_crystal_that_stops_is_kept_away_from() -> None:
    # Activity that grows towards a cliff, beyond which the crystal does not start.
    figure = [3.0 + 0.3 * s if s <= 7.0 else 0.0 for s in SETTINGS]
    result = find_compromise(
        [BandSteps("19", SETTINGS, figure, 0.02, floor=2.0), band("25.5", 9.0, 6.0, 0.1, floor=2.0)], as_found=3.0
    )
    assert result.setting <= 7.05
    assert result.worst.value > 4.5


def test_the_worst_bands_figure_is_as_sure_as_stated() -> None:
    rng = np.random.default_rng(40)
    inside, settings = [], []
    for _ in range(400):
        noisy = []
        for name, best in (("8.5", 4.0), ("12", 8.0)):
            plain = band(name, best, 5.0, 0.1)
            noisy.append(
                BandSteps(name, SETTINGS, tuple(np.array(plain.figure) + rng.normal(0.0, 0.1, len(SETTINGS))), 0.1)
            )
        result = find_compromise(noisy, as_found=0.0)
        best = {"8.5": 4.0, "12": 8.0}[result.worst_band]
        truth = 5.0 - 0.1 * (result.setting - best) ** 2
        inside.append(abs(result.worst.value - truth) <= 1.96 * result.worst.sigma)
        settings.append(result.setting)
    assert np.mean(inside) >= 0.93
    assert np.mean(settings) == pytest.approx(6.0, abs=0.1)


def test_bands_that_cannot_be_compared_are_refused() -> None:
    with pytest.raises(ValueError, match="at least one band"):
        find_compromise([], as_found=0.0)
    with pytest.raises(ValueError, match="one figure for each"):
        find_compromise([BandSteps("8.5", [0.0, 1.0], [1.0], 0.1)], as_found=0.0)
    with pytest.raises(ValueError, match="4 or more"):
        find_compromise([BandSteps("8.5", [0.0, 1.0, 2.0], [1.0, 2.0, 1.0], 0.1)], as_found=0.0)
    with pytest.raises(ValueError, match="not a number"):
        find_compromise([BandSteps("8.5", [0.0, 1.0, 2.0, 3.0], [1.0, 2.0, 1.0, math.nan], 0.1)], as_found=0.0)
    with pytest.raises(ValueError, match="same settings"):
        find_compromise([band("8.5", 4.0, 5.0, 0.1)], as_found=20.0)
