"""Rejection from the antenna: how much stronger an unwanted signal must be to be heard like the wanted one.

The source stands on the signal, then on the unwanted frequency, and each time at the level that gives the same output:
neither the detector's law nor gain control can then change the difference. Where the unwanted signal is not heard even
at the highest level allowed, the rejection is at least the distance to the weakest wanted signal that is.
"""

import math
from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Any

import numpy as np

from sequences.alignment.outcome import Finding, StepOutcome, Task
from sequences.engine.asks import connect
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_frequency, set_output, set_power, settle
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.decision_rule import Standing
from sequences.numerics.verdicts.verdict import Signs, judge_at_least
from sequences.numerics.wording import say_db, say_dbm
from sequences.plan.content import Spot
from sequences.procedures.antenna import find_near, tune, where_of
from sequences.procedures.dials.find_receiver import CLEAR_SIGMAS, Finder
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.procedures.sweeps.place import Place, place_of
from sequences.procedures.sweeps.source_level import SourceLevel, read_volts
from sequences.quantities import Quantity
from sequences.receiver.chain import dial_setting, mid_band
from sequences.receiver.frequency_plan import Stage, tuning

ROUNDS = 2
MISPLACED_DB = 0.3
"""What a level may be off, one sigma, since three readings find the window's middle only nearly."""

BOUND_SIGMA_DB = 1.0
"""What a look beside the window's middle may miss of an unwanted signal."""

OUTPUT_READINGS, FAINT_SIGMAS = 4, 3.0
QUIETER_DB = 5.0
LOWEST_DBM = -140.0


@dataclass(frozen=True, slots=True)
class Unwanted:
    """What is to be rejected: its figure, the same where only a bound is known, its name, and where it comes in."""

    figure: Quantity
    bound: Quantity
    name: str
    khz: Callable[[Stage], float]


def rejection(task: Task, unwanted: Unwanted) -> Procedure[StepOutcome]:
    """Measure every spot of the task; nothing is turned."""
    place = place_of(task.receiver, task.way.hookup)
    yield from connect(task.way.hookup, task.way.cautions)
    findings = []
    for spot in task.step.spots:
        yield from tune(task, spot)
        try:
            findings.append((yield from _at_spot(task, place, spot, unwanted)))
        except SequenceError as error:
            findings.append(Finding(unwanted.figure, where_of(task, spot), None, reason=str(error)))
        yield from set_output(False)
    return StepOutcome(task.step.id, task.phase, tuple(findings))


def _at_spot(task: Task, place: Place, spot: Spot, unwanted: Unwanted) -> Generator[Request, Any, Finding]:
    first = first_mixer(task, spot)
    near, signal_hz = yield from find_near(task, place, spot.source_khz or first.takes_khz)
    try:
        far, unwanted_hz = yield from find_near(task, place, unwanted.khz(first))
    except SequenceError:
        weakest_dbm = yield from weakest_heard(place, near, signal_hz)
        return judged_bound(task, spot, unwanted, place.highest_dbm - weakest_dbm)
    held = HeldOutput(far.level, place.highest_dbm, place.settle_s)
    start_dbm = {signal_hz: min(near.level.power_dbm, far.level.power_dbm), unwanted_hz: held.power_dbm}
    try:
        levels = yield from alike_levels(held, start_dbm, unwanted.figure.name)
    except SequenceError:
        heard_dbm = yield from heard_better_dbm((near, signal_hz), (far, unwanted_hz))
        return judged_bound(task, spot, unwanted, place.highest_dbm - heard_dbm)
    signal, other = levels[signal_hz], levels[unwanted_hz]
    figure = Estimate(signal.value - other.value, math.hypot(signal.sigma, other.sigma, MISPLACED_DB))
    return judged_rejection(task, spot, unwanted.figure, figure)


def alike_levels(
    held: HeldOutput, powers_dbm: dict[float, float], purpose: str
) -> Generator[Request, Any, dict[float, Estimate]]:
    """Hold the output at both frequencies in turns, begun at these powers, so that drift cancels.

    Gives the level at each, in dB: minus the source's power.
    """
    read: dict[float, list[Estimate]] = {frequency_hz: [] for frequency_hz in powers_dbm}
    for number in range(ROUNDS):
        for frequency_hz in list(read) if number % 2 == 0 else list(read)[::-1]:
            held.power_dbm = powers_dbm[frequency_hz]
            level = yield from held.read(frequency_hz, purpose)
            read[frequency_hz].append(level)
            powers_dbm[frequency_hz] = -level.value
    return {frequency_hz: _mean(levels) for frequency_hz, levels in read.items()}


def weakest_heard(
    place: Place, near: Finder, signal_hz: float, least_rise_v: float = 0.0
) -> Generator[Request, Any, float]:
    """Go down on the signal until it no longer stands as clear as a look asks for; give the last level that did.

    `least_rise_v`: it must also move the meter by more than this.
    """
    yield from set_frequency(signal_hz)
    yield from set_output(True)
    heard_dbm = near.level.power_dbm
    power_dbm = heard_dbm
    while power_dbm > LOWEST_DBM:
        yield from set_power(power_dbm)
        yield from settle(place.settle_s)
        rise_v = abs((yield from read_volts("weakest signal heard")) - near.quiet_v)
        if rise_v <= max(CLEAR_SIGMAS * near.quiet_sigma_v, least_rise_v):
            return heard_dbm
        heard_dbm = power_dbm
        power_dbm -= QUIETER_DB
    return heard_dbm


def heard_better_dbm(wanted: tuple[Finder, float], unwanted: tuple[Finder, float]) -> Generator[Request, Any, float]:
    """Give a wanted level that is surely heard better than the unwanted signal at the source's highest level.

    That makes a bound where the unwanted signal is heard, but too faintly for its output to be held. Each is a finder
    with the frequency it found.
    """
    (near, signal_hz), (far, unwanted_hz) = wanted, unwanted
    level = yield from output_at(far.place, far.level, far.place.highest_dbm, unwanted_hz)
    rise_v = abs(level.volts - far.quiet_v) + FAINT_SIGMAS * level.volts_sigma
    return (yield from weakest_heard(near.place, near, signal_hz, rise_v))


def output_at(
    place: Place, near: SourceLevel, power_dbm: float, frequency_hz: float
) -> Generator[Request, Any, SourceLevel]:
    """Read the output at a power and frequency: one that may then be held.

    Raises:
        SequenceError: the meter overloads.
    """
    yield from set_frequency(frequency_hz)
    yield from set_power(power_dbm)
    yield from settle(place.settle_s)
    volts = np.empty(OUTPUT_READINGS)
    for number in range(OUTPUT_READINGS):
        volts[number] = yield from read_volts("output to be held")
    if not np.isfinite(volts).all():
        raise SequenceError("The meter overloads; give it a higher range or check its lead.")
    sigma_v = max(near.volts_sigma, float(volts.std(ddof=1)))
    return SourceLevel(power_dbm, frequency_hz, float(volts.mean()), sigma_v)


def judged_bound(task: Task, spot: Spot, unwanted: Unwanted, least_db: float) -> Finding:
    """Judge what is at least there. A bound short of the limit decides nothing, for the source is at its end."""
    found = judged_rejection(task, spot, unwanted.bound, Estimate(least_db, BOUND_SIGMA_DB))
    if found.judged is not None and found.judged.standing is Standing.WITHIN:
        return found
    at_khz, highest_dbm = unwanted.khz(first_mixer(task, spot)), place_of(task.receiver, task.way.hookup).highest_dbm
    reason = (
        f"The {unwanted.name} at {at_khz:g} kHz was hardly heard, if at all, at {say_dbm(highest_dbm)}: it "
        f"is at least {say_db(least_db)} down. Whether it meets the limit of {say_db(task.step.limits[0].most)} cannot "
        "be told without a stronger source or a quieter meter."
    )
    return Finding(unwanted.bound, found.where, None, reason=reason)


def judged_rejection(task: Task, spot: Spot, quantity: Quantity, figure: Estimate) -> Finding:
    """Judge a rejection against the step's limit."""
    where = where_of(task, spot)
    least_db = task.step.limits[0].most
    name = f"The {quantity.name}{',' if ',' in quantity.name else ''} at {where}"
    return Finding(
        quantity, where, figure, judge_at_least(name, figure, least_db, say_db, signs=Signs(nothing_to_turn=True))
    )


def first_mixer(task: Task, spot: Spot) -> Stage:
    """Give what the first mixer is tuned to at a spot."""
    receiver = task.receiver
    at = dial_setting(receiver, spot.band or "", spot.dial_khz) if spot.dial_khz is not None else None
    return tuning(receiver, at or mid_band(receiver, spot.band or next(iter(receiver.bands)))).stages[0]


def _mean(levels: list[Estimate]) -> Estimate:
    count = len(levels)
    sigma = math.sqrt(sum(each.sigma**2 for each in levels)) / count
    return Estimate(sum(each.value for each in levels) / count, sigma)
