"""Volts and decibels, against published tables."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.levels import Into, LevelUnit, level_of, power_of

# IARU Region 1 Technical Recommendation R.1: S9 = -73 dBm, 6 dB a unit; volts across 50 ohm and dBuV by definition.
S_METER = [
    (-13.0, 50_059.0, 93.99),
    (-33.0, 5005.9, 73.99),
    (-53.0, 500.6, 53.99),
    (-63.0, 158.3, 43.99),
    (-73.0, 50.06, 33.99),
    (-79.0, 25.09, 27.99),
    (-91.0, 6.302, 15.99),
    (-103.0, 1.583, 3.99),
    (-121.0, 0.199, -14.01),
    (-93.0, 5.006, 13.99),
]


@pytest.mark.parametrize(("power_dbm", "microvolts", "dbuv"), S_METER)
def test_microvolts_and_dbuv_are_those_of_the_s_meter_table(power_dbm: float, microvolts: float, dbuv: float) -> None:
    assert level_of(power_dbm, LevelUnit.VOLTS_RMS) * 1e6 == pytest.approx(microvolts, rel=2e-3)
    assert level_of(power_dbm, LevelUnit.DBUV) == pytest.approx(dbuv, abs=0.005)


@pytest.mark.parametrize(
    ("power_dbm", "unit", "into", "level"),
    [
        # Definitions: 0 dBm is 1 mW, in 50 ohm 223.607 mV; 1 uV is -106.99 dBm; 0.5 uV is -113.01 dBm.
        (0.0, LevelUnit.VOLTS_RMS, Into.MATCHED, 0.223607),
        (-106.99, LevelUnit.VOLTS_RMS, Into.MATCHED, 1e-6),
        (-113.01, LevelUnit.VOLTS_RMS, Into.MATCHED, 0.5e-6),
        (-66.99, LevelUnit.VOLTS_RMS, Into.MATCHED, 100e-6),
        # ETSI quotes land-mobile sensitivities as EMF (from memory): 6 dBuV EMF = 2 uV EMF = 1 uV across the load.
        (-106.99, LevelUnit.VOLTS_RMS, Into.OPEN, 2e-6),
        (-106.99, LevelUnit.DBUV, Into.OPEN, 6.02),
        (0.0, LevelUnit.DBUV, Into.OPEN, 113.01),
        # 1 V peak to peak of sine across 50 ohm is 3.98 dBm, by definition; an open output then shows twice that.
        (3.979, LevelUnit.VOLTS_PEAK_TO_PEAK, Into.MATCHED, 1.0),
        (3.979, LevelUnit.VOLTS_PEAK_TO_PEAK, Into.OPEN, 2.0),
        (3.979, LevelUnit.VOLTS_PEAK, Into.MATCHED, 0.5),
        (-60.0, LevelUnit.DBM, Into.MATCHED, -60.0),
        (-60.0, LevelUnit.DBM, Into.OPEN, -53.979),
    ],
)
def test_a_level_is_what_its_definition_says(power_dbm: float, unit: LevelUnit, into: Into, level: float) -> None:
    assert level_of(power_dbm, unit, into) == pytest.approx(level, rel=2e-3)
    assert power_of(level, unit, into) == pytest.approx(power_dbm, abs=0.01)


@given(st.floats(-160.0, 40.0), st.sampled_from(LevelUnit), st.sampled_from(Into))
def test_a_level_goes_back_to_the_power_it_came_from(power_dbm: float, unit: LevelUnit, into: Into) -> None:
    assert power_of(level_of(power_dbm, unit, into), unit, into) == pytest.approx(power_dbm, abs=1e-9)


@given(st.floats(-160.0, 40.0), st.sampled_from(LevelUnit))
def test_across_nothing_the_level_is_six_decibels_more(power_dbm: float, unit: LevelUnit) -> None:
    """Which of the two a source means is exactly 6.02 dB."""
    wrong_dbm = power_of(level_of(power_dbm, unit, Into.OPEN), unit, Into.MATCHED)

    assert wrong_dbm - power_dbm == pytest.approx(6.0206, abs=1e-3)


def test_no_volts_are_no_power() -> None:
    assert power_of(0.0, LevelUnit.VOLTS_PEAK_TO_PEAK) == -math.inf
