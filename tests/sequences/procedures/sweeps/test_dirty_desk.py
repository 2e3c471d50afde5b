"""Whole scans behind a meter that lags, limits, bends or drifts: what it does is named, no wrong width is stated."""

import numpy as np
import pytest

from sequences.procedures.sweeps.scan import ScanResult
from tests.sequences.numerics.dirty_trials import TWO_SIDED_95
from tests.sequences.procedures.sweeps.dirty_desk import DESKS, circuit, scanned

SEEDS = range(4)
SAID = {
    "scan, lag 0.3 s, settle 0.3 s": "had not settled",
    "scan, lag 0.3 s, settle 0.6 s": "The meter lags",
    "scan, saturated 2 dB below the top": "cut off",
    "scan, saturated 0.5 dB below the top": "cut off",
    "scan, diode read as linear": "another law",
    "scan, drift of 5 % of the width": "The frequency drifts",
}
NO_WIDTH = ("scan, saturated 2 dB below the top", "scan, saturated 0.5 dB below the top", "scan, diode read as linear")


def scans(name: str) -> list[ScanResult]:
    settle_s, make = DESKS[name]
    return [scanned(make(np.random.default_rng([seed, 9])), settle_s) for seed in SEEDS]


@pytest.mark.parametrize("name", SAID)
def test_what_is_at_work_is_named_and_the_centre_held(name: str) -> None:
    for result in scans(name):
        assert any(SAID[name] in doubt for doubt in result.doubts), result.doubts
        centre, width = result.fit.centre, result.fit.width_3db
        assert centre is not None
        assert abs(centre.value - circuit().centre_hz) < 1.5 * TWO_SIDED_95 * centre.sigma
        if name in NO_WIDTH:
            assert width is None
        elif width is not None:
            assert abs(width.value - circuit().width_hz) < 1.5 * TWO_SIDED_95 * width.sigma


def test_a_clean_scan_is_not_doubted() -> None:
    for result in scans("scan, clean"):
        assert not result.doubts
        assert result.fit.centre is not None
        assert abs(result.fit.centre.value - circuit().centre_hz) < 4 * result.fit.centre.sigma
