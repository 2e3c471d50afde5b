"""Constant output: move the source until the meter reads the target; the level is minus the power that took.

The slowest way to a level and the only one that needs no law of the detector: the meter always stands at one voltage.
Each decision is a pure function of the readings so far.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sequences.numerics.figures import Estimate
from sequences.numerics.wording import say_db, say_dbm, say_volts

LONGEST_MOVE_DB = 10.0
FIRST_BLIND_MOVE_DB = 3.0
NEAR_DB = 1.0
CLOSE_DB = 3.0
ASIDE_DB = 1.5
CLEAR_SIGMAS = 4.5
NO_RESPONSE_DB = 40.0
# An amplitude law departs from its tangent by this much of the square of the distance: (ln 10 / 20) / 2.
CURVATURE_PER_DB = 0.0576


@dataclass(frozen=True, slots=True)
class OutputTrial:
    """What the meter read at one source power."""

    power_dbm: float
    volts: float


@dataclass(frozen=True, slots=True)
class OutputGoal:
    """The voltage to be held, the noise of one reading, how well the level is wanted and what the source may do."""

    target_v: float
    volts_sigma: float
    tolerance_db: float
    lowest_dbm: float
    highest_dbm: float
    start_dbm: float
    budget: int = 16


@dataclass(frozen=True, slots=True)
class TryPower:
    """Set the source to this power and read the meter."""

    power_dbm: float


@dataclass(frozen=True, slots=True)
class OutputHeld:
    """The power that holds the output at its target, in dBm; `level_db` is minus that, for a curve over frequency."""

    power_dbm: Estimate

    @property
    def level_db(self) -> Estimate:
        """The level of the circuit: what the source needs less, the circuit gives more."""
        return Estimate(-self.power_dbm.value, self.power_dbm.sigma)


@dataclass(frozen=True, slots=True)
class OutputOutOfReach:
    """The target cannot be reached; `reason` is one sentence."""

    reason: str


Decision = TryPower | OutputHeld | OutputOutOfReach


def next_power(goal: OutputGoal, trials: Sequence[OutputTrial]) -> Decision:
    """Decide what to do next, given the readings so far, in the order they were taken."""
    if not trials:
        return TryPower(_within(goal, goal.start_dbm))
    if len({trial.power_dbm for trial in trials}) == 1:
        return TryPower(_blind_move(goal, trials[-1]))
    by_power = sorted(trials, key=lambda trial: trial.power_dbm)
    bracket = _bracket(goal, by_power)
    if bracket is None:
        return _approach(goal, by_power)
    below, above = bracket
    if above.power_dbm - below.power_dbm > CLOSE_DB:
        return TryPower(_between(goal, below, above))
    return _hold(goal, trials, 0.5 * (below.power_dbm + above.power_dbm))


def _within(goal: OutputGoal, power_dbm: float) -> float:
    return min(max(power_dbm, goal.lowest_dbm), goal.highest_dbm)


def _blind_move(goal: OutputGoal, trial: OutputTrial) -> float:
    """Move as a linear detector would want it; where that says nothing, a little, towards the room there is."""
    ratio = goal.target_v / trial.volts if trial.volts else 0.0
    move_db = 20.0 * math.log10(ratio) if ratio > 0.0 else FIRST_BLIND_MOVE_DB
    if abs(move_db) < 0.5 * NEAR_DB:
        move_db = math.copysign(0.5 * NEAR_DB, move_db)
    wanted_dbm = _within(goal, trial.power_dbm + float(np.clip(move_db, -LONGEST_MOVE_DB, LONGEST_MOVE_DB)))
    if wanted_dbm != trial.power_dbm:
        return wanted_dbm
    return _within(goal, trial.power_dbm - math.copysign(FIRST_BLIND_MOVE_DB, move_db))


def _bracket(goal: OutputGoal, by_power: Sequence[OutputTrial]) -> tuple[OutputTrial, OutputTrial] | None:
    """Find the closest two powers that read on either side of the target."""
    pairs = [
        (below, above)
        for below, above in pairwise(by_power)
        if (below.volts - goal.target_v) * (above.volts - goal.target_v) <= 0.0 and above.power_dbm > below.power_dbm
    ]
    return min(pairs, key=lambda pair: pair[1].power_dbm - pair[0].power_dbm, default=None)


def _between(goal: OutputGoal, below: OutputTrial, above: OutputTrial) -> float:
    """Interpolate, but keep clear of both ends, so that the bracket shrinks whatever the law's curvature."""
    share = (goal.target_v - below.volts) / (above.volts - below.volts)
    return below.power_dbm + float(np.clip(share, 0.25, 0.75)) * (above.power_dbm - below.power_dbm)


def _approach(goal: OutputGoal, by_power: Sequence[OutputTrial]) -> Decision:
    """Step towards the target beyond the powers tried so far, or look where the meter answers at all."""
    lowest, highest = by_power[0], by_power[-1]
    rise_v = highest.volts - lowest.volts
    if abs(rise_v) <= CLEAR_SIGMAS * goal.volts_sigma:
        return _look_further(goal, lowest, highest)
    upwards = (goal.target_v - highest.volts) * rise_v > 0.0
    end = highest if upwards else lowest
    slope_v_per_db = rise_v / (highest.power_dbm - lowest.power_dbm)
    move_db = 1.3 * (goal.target_v - end.volts) / slope_v_per_db
    wanted_dbm = end.power_dbm + math.copysign(min(max(abs(move_db), NEAR_DB), LONGEST_MOVE_DB), move_db)
    return _move(goal, by_power, wanted_dbm)


def _look_further(goal: OutputGoal, lowest: OutputTrial, highest: OutputTrial) -> Decision:
    spanned_db = highest.power_dbm - lowest.power_dbm
    up, down = _within(goal, highest.power_dbm + LONGEST_MOVE_DB), _within(goal, lowest.power_dbm - LONGEST_MOVE_DB)
    wants_more = abs(goal.target_v) > abs(highest.volts)
    tried = (lowest.power_dbm, highest.power_dbm)
    choices = [power for power in ((up, down) if wants_more else (down, up)) if power not in tried]
    if spanned_db >= NO_RESPONSE_DB or not choices:
        return OutputOutOfReach(
            f"The meter stays at {say_volts(highest.volts)} while the source moves by {say_db(spanned_db)}; check the "
            "hookup, the receiver's gain and whether its AGC holds the meter."
        )
    return TryPower(choices[0])


def _hold(goal: OutputGoal, trials: Sequence[OutputTrial], about_dbm: float) -> Decision:
    """Close to the target: read there until the power is known well enough, or to one side to learn the slope."""
    close = [trial for trial in trials if abs(trial.power_dbm - about_dbm) <= CLOSE_DB]
    line = _local_line(goal, close)
    slope_is_clear = abs(line.slope.value) > CLEAR_SIGMAS * line.slope.sigma
    power = line.power_dbm if slope_is_clear else Estimate(about_dbm, CLOSE_DB)
    if power.sigma <= goal.tolerance_db:
        return OutputHeld(power)
    if len(trials) >= goal.budget:
        return _spent(goal, power)
    aside_db = 0.0 if slope_is_clear else math.copysign(ASIDE_DB, about_dbm - close[-1].power_dbm)
    return TryPower(_within(goal, float(np.clip(power.value, about_dbm - ASIDE_DB, about_dbm + ASIDE_DB)) + aside_db))


@dataclass(frozen=True, slots=True)
class _Line:
    power_dbm: Estimate
    slope: Estimate


def _local_line(goal: OutputGoal, close: Sequence[OutputTrial]) -> _Line:
    """Fit a straight law to the trials close by and solve it for the target.

    Each reading's weight falls with its distance, by what the law may curve over it.
    """
    power = np.array([trial.power_dbm for trial in close])
    off_v = np.array([trial.volts - goal.target_v for trial in close])
    rough_slope = float(np.polyfit(power, off_v, 1)[0])
    nearest_dbm = float(power[np.argmin(np.abs(off_v))])
    sigma_v = np.hypot(goal.volts_sigma, CURVATURE_PER_DB * (power - nearest_dbm) ** 2 * abs(rough_slope)) + 1e-12
    design = np.column_stack((np.ones(len(power)), power - nearest_dbm)) / sigma_v[:, None]
    covariance = np.linalg.pinv(design.T @ design)
    height, slope = covariance @ design.T @ (off_v / sigma_v)
    root_db = -height / slope
    gradient = np.array([1.0, root_db])
    # Where each trial was placed follows from the noise of those before it; that costs about one reading's worth.
    one_less = math.sqrt(len(close) / (len(close) - 1))
    sigma_db = one_less * math.sqrt(float(gradient @ covariance @ gradient)) / abs(slope)
    slope_estimate = Estimate(float(slope), math.sqrt(float(covariance[1, 1])))
    return _Line(Estimate(nearest_dbm + float(root_db), sigma_db), slope_estimate)


def _move(goal: OutputGoal, trials: Sequence[OutputTrial], wanted_dbm: float) -> Decision:
    power_dbm = _within(goal, wanted_dbm)
    if all(trial.power_dbm != power_dbm for trial in trials):
        return TryPower(power_dbm)
    end, way = ("highest", "low") if wanted_dbm > power_dbm else ("lowest", "high")
    return OutputOutOfReach(
        f"At the source's {end} allowed level, {say_dbm(power_dbm)}, the output is still too {way} for its target of "
        f"{say_volts(goal.target_v)}; choose another target or another source level."
    )


def _spent(goal: OutputGoal, power_dbm: Estimate) -> Decision:
    """With the readings used up, give what is known if it is near the target at all; its sigma tells how well."""
    if power_dbm.sigma <= NEAR_DB and goal.lowest_dbm <= power_dbm.value <= goal.highest_dbm:
        return OutputHeld(power_dbm)
    return OutputOutOfReach(
        f"After {goal.budget} readings the source level for {say_volts(goal.target_v)} is still uncertain by "
        f"{say_db(power_dbm.sigma)}; the meter is too unsteady or drifts."
    )
