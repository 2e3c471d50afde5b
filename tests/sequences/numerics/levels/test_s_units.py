"""S-units against the published table, and the time a gain control takes."""

import math

import numpy as np
import pytest

from sequences.numerics.figures import Estimate
from sequences.numerics.levels.control_times import TooQuick, time_to_settle
from sequences.numerics.levels.s_units import db_per_unit, falls_back, mark_db, s9_dbm

R1_MICROVOLTS = {"S9+40": 5005.9, "S9+20": 500.6, "S9+10": 158.3, "S9": 50.06, "S8": 25.09, "S5": 3.159, "S1": 0.199}
"""IARU Region 1 R.1: the voltage in 50 ohm at each mark below 30 MHz."""


@pytest.mark.parametrize(("mark", "microvolts"), R1_MICROVOLTS.items())
def test_a_mark_stands_for_the_recommended_voltage(mark: str, microvolts: float) -> None:
    dbm = 10.0 * math.log10((1e-6 * microvolts) ** 2 / 50.0 / 1e-3)
    above_s9_db = mark_db(mark)

    assert above_s9_db is not None
    assert s9_dbm(14200.0) + above_s9_db == pytest.approx(dbm, abs=0.02)


def test_above_30_mhz_s9_is_5_microvolts() -> None:
    """IARU Region 1 R.1: -93 dBm, 5.006 uV in 50 ohm."""
    assert s9_dbm(144e3) == pytest.approx(10.0 * math.log10((5.006e-6) ** 2 / 50.0 / 1e-3), abs=0.02)


@pytest.mark.parametrize("mark", ["S0", "S10", "S8+20", "9", "S9+", "s9", "S9+200"])
def test_what_is_no_mark_is_none(mark: str) -> None:
    assert mark_db(mark) is None


def test_a_meter_of_four_decibels_a_unit_is_told_so_whatever_lies_above_s9() -> None:
    levels = {f"S{unit}": Estimate(-60.0 + 4.0 * (unit - 9), 0.1) for unit in (3, 5, 7, 9)}
    levels["S9+20"] = Estimate(-55.0, 0.1)

    found = db_per_unit(levels)

    assert found is not None
    assert found.value == pytest.approx(4.0)
    assert found.sigma == pytest.approx(0.1 / math.sqrt(20.0), rel=0.01)
    assert db_per_unit({"S9": Estimate(-60.0, 0.1), "S9+20": Estimate(-55.0, 0.1)}) is None


def test_marks_that_do_not_go_one_way_are_named() -> None:
    assert falls_back({"S3": -0.1, "S9": -0.5, "S9+20": -2.0}) is None
    assert falls_back({"S3": -0.1, "S7": -0.6, "S9": -0.5, "S9+20": -2.0}) == ("S7", "S9")


@pytest.mark.parametrize("length_s", [0.02, 0.1])
def test_an_output_that_recovers_as_an_exponential_settles_when_three_decibels_are_left(length_s: float) -> None:
    """Voltage 1 - 0.9 exp(-t/T): within 3 dB of 1 when 0.9 exp(-t/T) = 1 - 10^(-3/20)."""
    time_s = np.arange(0.5 * length_s, 12.0, length_s)
    volts = -(1.0 - 0.9 * np.exp(-time_s / 1.5))

    found = time_to_settle(time_s, volts)

    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(1.5 * math.log(0.9 / (1.0 - 10.0**-0.15)), abs=length_s)
    assert found.sigma == pytest.approx(0.5 * length_s)


def test_an_output_at_rest_from_the_first_reading_on_gives_no_time() -> None:
    assert time_to_settle(np.array([0.1, 0.3, 0.5, 0.7]), np.array([1.1, 1.0, 1.0, 1.0])) == TooQuick(0.1)
