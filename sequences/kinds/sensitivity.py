"""Sensitivity: the source level at which signal and noise together are 10 dB above the noise alone.

The level is not hunted for: readings from well below the noise to well above it are fitted as signal plus noise, whose
knee tells the receiver's own noise whatever the detector's law.
"""

from collections.abc import Generator
from typing import Any

import numpy as np

from sequences.alignment.outcome import Finding, StepOutcome, Task
from sequences.engine.asks import connect
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_output, set_power, settle
from sequences.errors import SequenceError
from sequences.numerics.levels.signal_and_noise import Floats, SignalAndNoise, level_for_ratio
from sequences.numerics.verdicts.verdict import Signs, judge_at_most
from sequences.numerics.wording import say_dbm
from sequences.plan.content import Culprit, Limit, Spot, Step
from sequences.procedures.antenna import antenna_step, find_top, tune, where_of
from sequences.procedures.kind import Kind
from sequences.procedures.sweeps.place import Place, place_of
from sequences.procedures.sweeps.source_level import QUIET_SETTLES, read_volts
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.model import Receiver

NAME = "sensitivity"
RATIO_DB = 10.0
LEVEL = Quantity(
    "sensitivity",
    "source level for 10 dB signal-plus-noise to noise",
    "dBm",
    Sense.AT_MOST,
    "the weakest signal that stands clear of the receiver's own noise: the lower, the better it hears",
    Phrase("in need of {sign}{size} for 10 dB above its noise"),
)
NOISE = Quantity(
    "own-noise", "own noise at the antenna", "dBm", meaning="the signal that would be as strong as the receiver's noise"
)
WORDS = (
    "the detector's voltage from below the receiver's noise to well above it",
    "signal and noise add as powers, so that the knee of the curve tells the noise whatever the detector's law",
)
MEANING = "Sensitivity is how weak a signal may be and still be told from the hiss the receiver itself makes."

STEP_DB = 3.0
BELOW_DB, ABOVE_DB = 9.0, 18.0
"""Of the level that about doubles the noise's reading: from where to where the curve is read."""

STEP_SETTLES = 2.0
"""How many times the meter's usual wait is waited at each level: readings of a few per cent matter here."""

QUIETER_DB = 5.0
LOWEST_DBM = -140.0
TURNS = 4
QUIET_A_TURN = 6
"""How often the ladder is climbed, and how often the noise alone is read before each time."""


def sensitivity(task: Task) -> Procedure[StepOutcome]:
    """Measure every band; nothing is turned."""
    place = place_of(task.receiver, task.way.hookup)
    yield from connect(task.way.hookup, task.way.cautions)
    findings: list[Finding] = []
    doubts: list[str] = []
    for spot in task.step.spots:
        where = where_of(task, spot)
        yield from tune(task, spot)
        try:
            found = yield from _at_spot(task, place, spot)
        except SequenceError as error:
            findings.append(Finding(LEVEL, where, None, reason=str(error)))
        else:
            findings += _findings(task, where, found)
            doubts += [f"At {where}: {doubt.text}" for doubt in found.doubts if found.level_dbm is not None]
        yield from set_output(False)
    return StepOutcome(task.step.id, task.phase, tuple(findings), doubts=tuple(doubts))


def _findings(task: Task, where: str, found: SignalAndNoise) -> tuple[Finding, ...]:
    if found.level_dbm is None:
        reason = " ".join(doubt.text for doubt in found.doubts)
        return (Finding(LEVEL, where, None, reason=reason),)
    name = f"The level for 10 dB above the noise at {where}"
    signs = Signs(nothing_to_turn=True)
    judged = judge_at_most(name, found.level_dbm, task.step.limits[0].most, say_dbm, signs=signs)
    return Finding(LEVEL, where, found.level_dbm, judged), Finding(NOISE, where, found.noise_dbm)


def _at_spot(task: Task, place: Place, spot: Spot) -> Generator[Request, Any, SignalAndNoise]:
    finder, _ = yield from find_top(task, place, spot.source_khz or 0.0)
    quiet_v = yield from _read(place, None, QUIET_A_TURN)
    doubled_dbm = yield from _doubled_dbm(place, finder.level.power_dbm, float(np.median(quiet_v)))
    top_dbm = min(doubled_dbm + ABOVE_DB, place.highest_dbm)
    ladder = np.arange(max(doubled_dbm - BELOW_DB, LOWEST_DBM), top_dbm + 0.5 * STEP_DB, STEP_DB)
    volts: dict[float, list[float]] = {-np.inf: quiet_v.tolist(), **{float(power): [] for power in ladder}}
    for turn in range(TURNS):
        for power_dbm in ladder if turn % 2 == 0 else ladder[::-1]:
            volts[float(power_dbm)] += (yield from _read(place, float(power_dbm), 1)).tolist()
        volts[-np.inf] += (yield from _read(place, None, QUIET_A_TURN)).tolist()
    return _fitted(volts)


def _fitted(volts: dict[float, list[float]]) -> SignalAndNoise:
    """Fit the mean at each power.

    The scatter of a few readings at one power is hardly known, so it is told from all: what there is without a signal,
    and a share of the reading.
    """
    powers_dbm = np.array(list(volts))
    means = np.array([np.mean(each) for each in volts.values()])
    counts = np.array([len(each) for each in volts.values()])
    spread_v = np.array([np.std(each, ddof=1) for each in volts.values()])
    on = np.isfinite(powers_dbm)
    quiet_v = float(spread_v[~on].mean())
    share = float(np.sqrt(np.median(np.maximum(spread_v[on] ** 2 - quiet_v**2, 0.0) / means[on] ** 2)))
    sigma_v = np.where(on, np.hypot(quiet_v, share * means), quiet_v)
    return level_for_ratio(powers_dbm, means, sigma_v / np.sqrt(counts), RATIO_DB)


def _doubled_dbm(place: Place, power_dbm: float, quiet_v: float) -> Generator[Request, Any, float]:
    """Go down from a level that stands clear until the reading is no more than about twice that of the noise alone."""
    while power_dbm > LOWEST_DBM:
        volts = float((yield from _read(place, power_dbm, 2)).mean())
        if abs(volts) <= 2.0 * abs(quiet_v):
            return power_dbm
        power_dbm -= QUIETER_DB
    raise SequenceError(
        "The meter still follows the source at its lowest level: the receiver's own noise does not show at this point."
    )


def _read(place: Place, power_dbm: float | None, count: int) -> Generator[Request, Any, Floats]:
    """Read at a power, or with the source off.

    Raises:
        SequenceError: the meter overloads or gives no number.
    """
    if power_dbm is not None:
        yield from set_power(power_dbm)
    yield from set_output(power_dbm is not None)
    yield from settle(place.settle_s * (QUIET_SETTLES if power_dbm is None else STEP_SETTLES))
    volts = np.empty(count)
    for number in range(count):
        volts[number] = yield from read_volts(NAME)
    if not np.isfinite(volts).all():
        raise SequenceError("The meter overloads; give it a higher range or check its lead.")
    return volts


def _steps(receiver: Receiver) -> list[Step]:
    most_dbm = receiver.limits.sensitivity_dbm
    if most_dbm is None:
        return []
    return antenna_step(receiver, NAME, Limit(LEVEL, most_dbm), WORDS, MEANING, points_at=Culprit.VALVES)


KIND = Kind(NAME, _steps, sensitivity, (LEVEL, NOISE))
