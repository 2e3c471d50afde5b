"""Turn an adjuster that serves one or several bands to where the worst of them is best, reading each at every step."""

from collections.abc import Generator
from dataclasses import dataclass
from typing import Any

from sequences.alignment.outcome import Stuck
from sequences.engine.requests import Request
from sequences.kinds.crystal_activity.band_voltages import READINGS, BandVoltages
from sequences.numerics.adjusters.best_worst_search import next_setting
from sequences.numerics.adjusters.coach_error import ErrorGoal
from sequences.numerics.adjusters.coach_peak import PeakGoal
from sequences.numerics.adjusters.compromise import LEAST_SETTINGS, BandSteps, Compromise, find_compromise
from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.activity import is_stopped
from sequences.numerics.wording import say_volts
from sequences.plan.content import StepAdjuster
from sequences.procedures.adjusting.live_adjusting import LiveEnd, bring_to_peak, put_back
from sequences.procedures.adjusting.live_gauges import WatchedActivity
from sequences.procedures.adjusting.turning import Hand

STRIDE = 4
REACH = 24
"""In nudges: how far apart the settings are, and how far from where it was found it is turned either way."""

WIDER = (8, 16, 32, 64)
"""In nudges: how far either way is searched, one after the other, where nothing oscillates."""

FINEST = 0.25
"""In nudges: a smaller turn is more than fingers can do."""


GOOD_SHARE = 0.01
"""Of the strongest band's voltage: so little below the best is as good as the best."""


WORSE_SHARE = 0.03
"""Of the strongest band's voltage: left so much worse than found it is to be put back."""


@dataclass(frozen=True, slots=True)
class Scale:
    """What a voltage is held against, as sizes: the strongest band's, and the least allowed, None without a limit."""

    strongest_v: float
    floor_v: float | None

    def size_v(self, read: Estimate) -> float:
        """Give how far a test point is pulled below zero; nothing at all where there is no oscillation."""
        return 0.0 if read.value >= 0.0 or is_stopped(read, self.strongest_v) else -read.value


@dataclass(frozen=True, slots=True)
class LivePeak:
    """One band's activity turned live through its peak, as sizes in volts. `passed`: whether the peak was seen."""

    found_v: float
    best: Estimate
    left_v: float
    passed: bool


@dataclass(frozen=True, slots=True)
class Shared:
    """What became of the adjuster. `never_ran`: bands that did not oscillate at any setting; `live`: turned so.

    `searched_turns`: from where to where it was turned, counted from where it was found, clockwise positive.
    """

    compromise: Compromise | None
    stuck: Stuck | None
    never_ran: frozenset[str]
    live: LivePeak | None = None
    searched_turns: tuple[float, float] = (0.0, 0.0)

    def reachable(self, band: str) -> Estimate | None:
        """Give the band's best voltage, as a size, over the settings tried; None where it never ran or nobody knows."""
        if self.live is not None:
            return self.live.best if self.live.passed else None
        if self.compromise is None:
            return None
        outcome = next((one for one in self.compromise.bands if one.name == band), None)
        if outcome is None:
            return None
        return Estimate(outcome.chosen.value + outcome.loss.value, outcome.chosen.sigma)


def set_shared(
    adjuster: StepAdjuster, bands: tuple[str, ...], voltages: BandVoltages, scale: Scale, hand: Hand
) -> Generator[Request, Any, Shared]:
    """Step the adjuster, read each band at each setting, and leave it where the worst band is best.

    Args:
        adjuster: What is turned.
        bands: Those it serves.
        voltages: Reads a band's voltage; the more negative the better.
        scale: What a voltage is held against.
        hand: Keeps the account of the turns.
    """
    found = yield from _Stepping(adjuster, bands, voltages, scale, hand).carry_out()
    if found.stuck is not None:
        hand.found(adjuster.name, found.stuck)
    return found


def peak_live(
    adjuster: StepAdjuster, band: str, voltages: BandVoltages, scale: Scale, hand: Hand
) -> Generator[Request, Any, Shared]:
    """Have the adjuster of a single band turned live to the band's strongest oscillation."""
    found = yield from voltages.read(band)
    gauge = WatchedActivity(found.sigma * READINGS**0.5)
    goal = PeakGoal(adjuster.name, GOOD_SHARE * scale.strongest_v, say_volts, decibels=False)
    became = yield from bring_to_peak(goal, gauge, hand, f"Band {band} is to oscillate as strongly as it can.")
    course = became.last
    if course is None:
        return Shared(None, Stuck.SEIZED, frozenset())
    best = Estimate(course.best, course.advice.sigma or 0.0)
    if scale.size_v(Estimate(-best.value, best.sigma)) == 0.0:
        return Shared(None, None, frozenset({band}))
    stuck = None
    if became.end is LiveEnd.CANNOT and not course.passed:
        stuck = Stuck.END_OF_TRAVEL if became.moved else Stuck.SEIZED
    left = yield from voltages.read(band)
    found_v, left_v = scale.size_v(found), scale.size_v(left)
    if not course.passed and found_v - left_v > WORSE_SHARE * scale.strongest_v:
        as_found = ErrorGoal(adjuster.name, -found.value, goal.within, say_volts)
        yield from put_back(as_found, gauge, hand, say_volts(found_v - left_v))
        left_v = scale.size_v((yield from voltages.read(band)))
    return Shared(None, stuck, frozenset(), LivePeak(found_v, best, left_v, course.passed))


class _Stepping:
    """The settings tried, in nudges from where the adjuster was found or last met the end of its travel."""

    def __init__(
        self, adjuster: StepAdjuster, bands: tuple[str, ...], voltages: BandVoltages, scale: Scale, hand: Hand
    ) -> None:
        self.adjuster, self.bands, self.voltages, self.scale, self.hand = adjuster, bands, voltages, scale, hand
        self.tried: dict[int, dict[str, Estimate]] = {}
        self.at = 0.0
        self.blocked: set[int] = set()
        self.moved = False
        self.from_found_turns = 0.0
        self.searched_turns = (0.0, 0.0)

    def carry_out(self) -> Generator[Request, Any, Shared]:
        yield from self._take(0)
        while (setting := self._next()) is not None:
            if (yield from self._turn_to(setting)):
                yield from self._take(setting)
            elif len(self.blocked) > 1 and not self.moved:
                return Shared(None, Stuck.SEIZED, frozenset())
        return (yield from self._finish())

    def _next(self) -> int | None:
        """Search with all bands; where one never runs, with the others; where none does, there is nothing to find."""
        running = self._running()
        if not running:
            return self._search()
        # About the nearest setting that runs, which may have been found far from where the adjuster stood.
        reach = REACH + min(abs(setting) for setting, worst in self._worst(running).items() if worst > 0.0)
        setting = next_setting(self._worst(self.bands), STRIDE, reach, self.blocked)
        if setting is None and running and len(running) < len(self.bands):
            setting = next_setting(self._worst(running), STRIDE, reach, self.blocked)
        return setting

    def _search(self) -> int | None:
        """Where nothing oscillates: the whole travel, ever wider to both sides, until its ends or a good many turns."""
        wider = (next_setting(self._worst(self.bands), STRIDE, reach, self.blocked) for reach in WIDER)
        return next((setting for setting in wider if setting is not None), None)

    def _finish(self) -> Generator[Request, Any, Shared]:
        running = self._running()
        never_ran = frozenset(self.bands) - frozenset(running)
        if not running or len(self.tried) < LEAST_SETTINGS:
            yield from self._put_back()
            stuck = Stuck.END_OF_TRAVEL if running and self.blocked else None
            return Shared(None, stuck, never_ran, searched_turns=self.searched_turns)
        found = find_compromise([self._steps(band) for band in running], 0.0, unit="V")
        yield from self._turn_to(found.setting)
        at_end = self._ends_at_block(found)
        return Shared(found, Stuck.END_OF_TRAVEL if at_end else None, never_ran)

    def _ends_at_block(self, found: Compromise) -> bool:
        """Tell whether the best setting is the last one before the end of the travel."""
        ends = {1: max(self.tried), -1: min(self.tried)}
        return any(abs(found.setting - ends[side]) < 1.0 for side in self.blocked)

    def _steps(self, band: str) -> BandSteps:
        settings = sorted(self.tried)
        reads = [self.tried[setting][band] for setting in settings]
        sizes = [self.scale.size_v(read) for read in reads]
        return BandSteps(band, settings, sizes, max(read.sigma for read in reads), self.scale.floor_v)

    def _worst(self, bands: tuple[str, ...]) -> dict[int, float]:
        return {setting: min(self.scale.size_v(read[band]) for band in bands) for setting, read in self.tried.items()}

    def _running(self) -> tuple[str, ...]:
        return tuple(
            band for band in self.bands if any(self.scale.size_v(read[band]) > 0.0 for read in self.tried.values())
        )

    def _take(self, setting: int) -> Generator[Request, Any, None]:
        # Begin with the band that is on, so that the switch is thrown once a setting.
        order = self.bands if len(self.tried) % 2 == 0 else self.bands[::-1]
        reads = {}
        for band in order:
            reads[band] = yield from self.voltages.read(band)
        self.tried[setting] = reads
        self.at = float(setting)

    def _turn_to(self, setting: float) -> Generator[Request, Any, bool]:
        """Turn to a setting; where the adjuster stops on the way, positions count anew from there."""
        by = setting - self.at
        if abs(by) < FINEST:
            return True
        could = yield from self.hand.turn(self.adjuster.name, by * self.adjuster.nudge_turns, self._why())
        if could:
            self.moved, self.at = True, setting
            self.from_found_turns += by * self.adjuster.nudge_turns
            low, high = self.searched_turns
            self.searched_turns = (min(low, self.from_found_turns), max(high, self.from_found_turns))
            return True
        self.blocked.add(1 if by > 0 else -1)
        if self.moved:
            self.tried = {}
            yield from self._take(0)
        return False

    def _put_back(self) -> Generator[Request, Any, None]:
        """Turn back to where it was found; what an end of the travel cut short nobody counted."""
        if abs(self.from_found_turns) >= FINEST * self.adjuster.nudge_turns:
            yield from self.hand.turn(self.adjuster.name, -self.from_found_turns, "Back to where it was found.")

    def _why(self) -> str:
        last = self.tried.get(round(self.at))
        if last is None:
            return ""
        said = ", ".join(f"{say_volts(last[band].value)} on band {band}" for band in self.bands)
        return f"The test point reads {said}."
