"""What remains of a sweep less the response behind it: as sure as the law was where the detector met it."""

import numpy as np
import pytest

from sequences.numerics.levels.rise_law import RiseLaw
from sequences.numerics.responses.passband import PassbandFit, fit_passband
from sequences.procedures.sweeps.scan import ScanResult
from sequences.procedures.sweeps.scan_log import Level
from sequences.procedures.sweeps.stage_sweep import less

STEPS_DBM = np.tile(np.arange(-40.0, -66.0, -1.5), 2)
VOLTS_SIGMA = 2e-4


def law() -> RiseLaw:
    """A linear detector behind a noisy meter: ten times surer at -45 dBm than at -65 dBm."""
    volts = 900 * 0.223607 * 10 ** (STEPS_DBM / 20)
    noise = np.random.default_rng(5).normal(0.0, VOLTS_SIGMA, volts.size)
    return RiseLaw.from_steps(STEPS_DBM, volts + noise, VOLTS_SIGMA, 0.0)


def circuit_db(frequency_hz: np.ndarray, width_hz: float) -> np.ndarray:
    """One tuned circuit at 455 kHz: 10 log10(1 + (2 Q df / f)^2) down (Terman, Radio Engineers' Handbook, 1943)."""
    detuning = 455e3 / width_hz * (frequency_hz / 455e3 - 455e3 / frequency_hz)
    fall_db: np.ndarray = -10 * np.log10(1 + detuning**2)
    return fall_db


def swept(power_off_db: float) -> ScanResult:
    """One and the same sweep, its levels told for a source so much weaker than it was."""
    frequency_hz = np.linspace(447e3, 463e3, 41)
    noise_db = np.random.default_rng(7).normal(0.0, 0.01, 41)
    top_dbm = -45.0 - power_off_db
    levels_db = top_dbm + circuit_db(frequency_hz, 8e3) + circuit_db(frequency_hz, 40e3) + noise_db
    levels = tuple(
        Level(float(f), float(level), 0.01, 0.1 * place)
        for place, (f, level) in enumerate(zip(frequency_hz, levels_db, strict=True))
    )
    fit = fit_passband(frequency_hz, levels_db)
    return ScanResult(fit, 41, (), 447e3, 463e3, levels, law(), power_off_db)


def stage_of(result: ScanResult) -> PassbandFit:
    """Take off a much wider circuit."""
    frequency_hz = np.linspace(400e3, 510e3, 221)
    behind = fit_passband(frequency_hz, circuit_db(frequency_hz, 40e3))
    procedure = less(result, behind)
    try:
        while True:
            next(procedure)
    except StopIteration as end:
        stage: PassbandFit = end.value
        return stage


def test_a_stage_is_as_uncertain_as_the_law_where_it_was_met_whatever_power_the_levels_are_told_for() -> None:
    as_it_was, told_weaker = stage_of(swept(0.0)), stage_of(swept(15.0))

    assert as_it_was.width_3db is not None
    assert told_weaker.width_3db is not None
    assert told_weaker.width_3db.value == pytest.approx(as_it_was.width_3db.value, rel=1e-4)
    assert told_weaker.width_3db.sigma == pytest.approx(as_it_was.width_3db.sigma, rel=1e-3)
