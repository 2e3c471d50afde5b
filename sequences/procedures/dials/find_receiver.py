"""Find where the receiver really is: the source searches for it, not the other way round.

Looks go outwards from where it should be until the meter rises. Then either the passband is followed to its centre,
or the beat oscillator is brought to zero beat by two counted beats; or the source only stays at the window's middle,
to measure through a receiver that is retuned by hand.
"""

from collections.abc import Generator
from dataclasses import dataclass
from typing import Any

import numpy as np

from sequences.engine.requests import Request
from sequences.engine.steps import read_meter, set_frequency, set_output, set_power, settle
from sequences.errors import SequenceError
from sequences.numerics.adjusters.edge_balance import HopPoints, KnownCircuit, hop_points, read_edges
from sequences.numerics.figures import Estimate
from sequences.numerics.levels.level_laws import LevelLaw
from sequences.numerics.responses.passband import PassbandFit
from sequences.numerics.search.next_reading import Finished, ScanGoal, begin, choose, observe
from sequences.numerics.search.outward_search import Looked, NotSeen, OutwardGoal, Seen, next_look
from sequences.numerics.wording import say_dbm, say_hz
from sequences.procedures.sweeps.calibration import calibrate
from sequences.procedures.sweeps.place import Place
from sequences.procedures.sweeps.scan_log import Level, ScanLog
from sequences.procedures.sweeps.source_level import QUIET_SETTLES, SourceLevel, find_source_level, read_volts

QUIET_READINGS = 9
CLEAR_SIGMAS = 8.0
LOUDER_DB = 10.0

CENTRE_GOAL = 0.015
CENTRE_BUDGET = 60
SPAN_IN_WIDTHS = 5.0
"""How well the passband's centre is wanted, in 3 dB widths; with how many readings; over how many widths."""

HOPS = 3
MOST_HOP_ROUNDS = 3
NEAR_ENOUGH = 0.1
"""Of the width: a hop this near to balance is at the edges it was meant for."""

LEAST_CENTRE_SIGMA = 0.01
"""Of the width: skew, ripple and a gain control that bends the law make a passband's middle no better known."""

LEARNING_ATTEMPTS = 3

HEADROOM_DB = 3.0
"""The passband is read this far below the law's upper end, for it may stand a little higher elsewhere on the dial."""


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """What is looked for: about where, in Hz of the source, and how far from there it may be; and its 3 dB width."""

    expected_hz: float
    reach_hz: float
    width_hz: float


@dataclass(slots=True)
class Finder:
    """One hookup's way of finding the receiver: its levels, and what was learnt of its passband the first time."""

    place: Place
    quiet_v: float
    quiet_sigma_v: float
    level: SourceLevel
    law: LevelLaw | None = None
    law_power_dbm: float = 0.0
    known: PassbandFit | None = None


def find_first(place: Place, where: Whereabouts) -> Generator[Request, Any, tuple[Finder, float]]:
    """Look for the receiver for the first time at a hookup: louder where nothing shows, then at a level that suits.

    The source is left on. Gives the finder for the next times, and where the window's top was seen, in Hz.

    Raises:
        SequenceError: nothing moves the meter within the reach at any level allowed.
    """
    power_dbm = min(place.level_dbm, place.highest_dbm)
    quiet_v, sigma_v = yield from _read_quiet(place, where, power_dbm)
    while True:
        yield from set_power(power_dbm)
        seen = yield from _look(place, where, quiet_v, sigma_v)
        if seen is not None:
            break
        if power_dbm >= place.highest_dbm:
            raise SequenceError(_nowhere(where, power_dbm))
        power_dbm = min(power_dbm + LOUDER_DB, place.highest_dbm)
    level = yield from find_source_level([seen.frequency_hz], power_dbm, place.highest_dbm, place.settle_s)
    return Finder(place, quiet_v, sigma_v, level), seen.frequency_hz


def find_again(finder: Finder, where: Whereabouts) -> Generator[Request, Any, float]:
    """Look for the receiver once more, at the level found the first time; give where the window's top is, in Hz.

    Raises:
        SequenceError: nothing moves the meter within the reach.
    """
    yield from set_power(finder.level.power_dbm)
    seen = yield from _look(finder.place, where, finder.quiet_v, finder.quiet_sigma_v)
    if seen is None:
        raise SequenceError(_nowhere(where, finder.level.power_dbm))
    return seen.frequency_hz


def passband_centre(finder: Finder, near_hz: float, width_hz: float) -> Generator[Request, Any, Estimate]:
    """Give the source frequency of the passband's centre, near where its top was seen.

    The first time the law of the detector is learnt and the passband's curve fitted; later its two edges are compared,
    for the same curve then stands somewhere else.

    Raises:
        SequenceError: the readings make no passband with two edges.
    """
    if finder.law is None:
        yield from _learn_law(finder, near_hz, width_hz)
    centre = None
    if finder.known is not None:
        centre = yield from _hop_to_centre(finder, finder.known, near_hz)
    if centre is None:
        fit = yield from _fit_passband(finder, near_hz, width_hz)
        if fit.centre is None:
            reasons = " ".join(doubt.text for doubt in fit.doubts)
            raise SequenceError(f"The passband near {say_hz(near_hz)} has no centre to be told: {reasons}")
        finder.known, centre = finder.known or fit, fit.centre
    return Estimate(centre.value, float(np.hypot(centre.sigma, LEAST_CENTRE_SIGMA * width_hz)))


def _read_quiet(place: Place, where: Whereabouts, power_dbm: float) -> Generator[Request, Any, tuple[float, float]]:
    """Read the meter with the source off, and switch it on; give mean and scatter in volts."""
    yield from set_output(False)
    yield from set_power(power_dbm)
    yield from set_frequency(where.expected_hz)
    yield from settle(QUIET_SETTLES * place.settle_s)
    volts = np.empty(QUIET_READINGS)
    for number in range(QUIET_READINGS):
        volts[number] = yield from read_volts("quiet")
    if not np.isfinite(volts).all():
        raise SequenceError("The meter overloads with the source off; give it a higher range or check its lead.")
    yield from set_output(True)
    return float(volts.mean()), float(np.std(volts, ddof=1))


def _look(place: Place, where: Whereabouts, quiet_v: float, sigma_v: float) -> Generator[Request, Any, Seen | None]:
    """Look outwards and climb. What was seen is looked at once more: a click is seen but once."""
    goal = OutwardGoal(where.expected_hz, where.width_hz, where.reach_hz, CLEAR_SIGMAS * sigma_v)
    looked: list[Looked] = []
    while not isinstance(decision := next_look(goal, looked), NotSeen):
        frequency_hz = decision.frequency_hz
        yield from set_frequency(frequency_hz)
        yield from settle(place.settle_s)
        rise_v = abs((yield from read_volts("finding the receiver")) - quiet_v)
        if isinstance(decision, Seen) and rise_v > goal.clear_v:
            return decision
        looked.append(Looked(frequency_hz, rise_v))
    return None


def _nowhere(where: Whereabouts, power_dbm: float) -> str:
    return (
        f"The receiver was not found within {say_hz(where.reach_hz)} of {say_hz(where.expected_hz)}, even at "
        f"{say_dbm(power_dbm)}: check the leads, the band and the dial, and that its oscillators run."
    )


def _learn_law(finder: Finder, near_hz: float, width_hz: float) -> Generator[Request, Any, None]:
    """Learn the detector's law on the passband. Where noise made the steps unsteady they are taken again."""
    half_hz, power_dbm = 0.5 * width_hz, finder.level.power_dbm
    for attempt in range(1, LEARNING_ATTEMPTS + 1):
        try:
            calibration = yield from calibrate(near_hz - half_hz, near_hz + half_hz, power_dbm, finder.place.settle_s)
        except SequenceError:
            if attempt == LEARNING_ATTEMPTS:
                raise
        else:
            finder.law, finder.law_power_dbm = calibration.law, power_dbm
            return


def _fit_passband(finder: Finder, near_hz: float, width_hz: float) -> Generator[Request, Any, PassbandFit]:
    log = _log(finder)
    half_span_hz = 0.5 * SPAN_IN_WIDTHS * width_hz
    search = begin(ScanGoal(near_hz - half_span_hz, near_hz + half_span_hz, CENTRE_GOAL, None, CENTRE_BUDGET))
    yield from set_power(finder.law_power_dbm - HEADROOM_DB)
    while not isinstance(move := choose(search), Finished):
        level = yield from _level_at(finder, log, move.frequency_hz)
        if level is None:
            search = observe(search, move.frequency_hz, None)
        else:
            search = observe(search, move.frequency_hz, level.level_db, level.sigma_db)
    return log.fit()


def _hop_to_centre(finder: Finder, known: PassbandFit, near_hz: float) -> Generator[Request, Any, Estimate | None]:
    """Compare the known passband's two edges about a frequency until they balance; None where they cannot."""
    if known.centre is None or known.width_3db is None:
        return None
    yield from set_power(finder.law_power_dbm - HEADROOM_DB)
    target_hz = near_hz
    for _ in range(MOST_HOP_ROUNDS):
        circuit = KnownCircuit(known, known.centre.value, known.width_3db.value, target_hz)
        points = hop_points(circuit)
        levels = yield from _hop(finder, points)
        if levels is None:
            return None
        detuning = read_edges(circuit, points, *levels).detuning_hz
        if detuning is None:
            return None
        target_hz += detuning.value
        if abs(detuning.value) < NEAR_ENOUGH * known.width_3db.value:
            return Estimate(float(target_hz), float(np.hypot(detuning.sigma, known.centre.sigma)))
    return None


def _hop(finder: Finder, points: HopPoints) -> Generator[Request, Any, tuple[Estimate, Estimate] | None]:
    """Read both edges in turns; give the level of each, or None where too few readings made one."""
    log = _log(finder)
    levels: dict[float, list[float]] = {points.lower_hz: [], points.upper_hz: []}
    for number in range(HOPS):
        order = (points.lower_hz, points.upper_hz) if number % 2 == 0 else (points.upper_hz, points.lower_hz)
        for frequency_hz in order:
            level = yield from _level_at(finder, log, frequency_hz)
            if level is None:
                return None
            levels[frequency_hz].append(level.level_db)
    lower, upper = (np.array(levels[edge_hz]) for edge_hz in (points.lower_hz, points.upper_hz))
    scatter_db = float(np.sqrt((np.var(lower, ddof=1) + np.var(upper, ddof=1)) / 2))
    # Four readings' worth of freedom: the scatter is widened so that few readings do not boast (Student's t).
    sigma_db = 1.4 * scatter_db / HOPS**0.5
    return Estimate(float(lower.mean()), sigma_db), Estimate(float(upper.mean()), sigma_db)


def edge_level(finder: Finder, frequency_hz: float) -> Generator[Request, Any, Estimate | None]:
    """Give the level at one frequency by the law learnt before; None where the reading makes none.

    Raises:
        SequenceError: no law was learnt, because no passband's centre was ever asked for.
    """
    yield from set_power(finder.law_power_dbm - HEADROOM_DB)
    level = yield from _level_at(finder, _log(finder), frequency_hz)
    return None if level is None else Estimate(level.level_db, level.sigma_db or 0.0)


def _log(finder: Finder) -> ScanLog:
    if finder.law is None:
        raise SequenceError("The detector's law was not learnt.")
    return ScanLog(finder.law, finder.law_power_dbm)


def _level_at(finder: Finder, log: ScanLog, frequency_hz: float) -> Generator[Request, Any, Level | None]:
    yield from set_frequency(frequency_hz)
    yield from settle(finder.place.settle_s)
    reading = yield from read_meter("passband")
    return (yield from log.take(reading))
