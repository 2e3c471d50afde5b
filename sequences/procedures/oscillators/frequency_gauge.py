"""Ways to find an oscillator's error: counted by a pick-up, or by zero beat with the source, counted or heard."""

import dataclasses
import math
from collections.abc import Callable, Generator, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from sequences.alignment.kept import Kept
from sequences.engine.asks import connect
from sequences.engine.requests import Request
from sequences.engine.steps import set_frequency, set_output, set_power
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.two_injections import Agreement, agreement, error_at_beat, mixer_oscillator_error
from sequences.plan.content import Way, WayName
from sequences.procedures.adjusting.live_adjusting import LiveGauge
from sequences.procedures.adjusting.live_gauges import BeatError, CountedError
from sequences.procedures.oscillators.by_ear import Ear, Sought
from sequences.procedures.oscillators.pick_up import Pull, find_pull, moved_off
from sequences.procedures.oscillators.right_count import count_what_is_meant
from sequences.procedures.oscillators.zero_beat import OFFSET_IN_WIDTHS, zero_beat
from sequences.receiver.cautions import cautions_for
from sequences.receiver.chain import (
    DialSetting,
    conversions_in_order,
    frequency_khz,
    ifs_in_order,
    oscillator_khz,
    widest_khz,
)
from sequences.receiver.hookups import Hookup
from sequences.receiver.model import Receiver
from sequences.receiver.points import source_nearest_next_mixer

HZ_PER_KHZ = 1000.0
SETTLE_S = 0.1
"""Before a beat is counted: the last filter's ringing and the audio's coupling capacitors settle within it."""

BEAT_OSCILLATOR = "beat_oscillator"

SPREAD_IN_LIMITS = 15.0
"""How far an oscillator that nobody has looked at may well be off, one sigma."""

UNTOLD_HZ = 200.0
"""How far a beat oscillator without a limit may well be off, one sigma."""

REPORTED, ON_THE_WAY = (0.02, 4.0), (0.03, 6.0)
"""How nearly an error is wanted, to be reported and between two turns: as a share of itself, but in Hz no less."""

SINCE_HZ = 3.0
"""What an oscillator may have moved by since it was measured a moment ago, one sigma (common practice, no source)."""

FindZero = Callable[[Sought], Generator[Request, Any, Estimate]]
"""Give the source's frequency of zero beat, near where it should be."""


@dataclass(frozen=True, slots=True)
class Reading:
    """An oscillator's error in Hz, positive where it is high; and how two injection points agree, where there are two.

    `shared`: the beat oscillator's own error is in the figure, because nothing may be let in behind the mixer.
    `behind_hz`: what zero beat is off by with the source behind the mixer; `half_zone_hz`: half the width of the zone
    in which the ear hears nothing.
    """

    error_hz: Estimate
    agreement: Agreement | None = None
    shared: bool = False
    behind_hz: Estimate | None = None
    half_zone_hz: Estimate | None = None


@dataclass(frozen=True, slots=True)
class Known:
    """What an earlier run told, so that a person is not asked it over: None where it did not.

    `behind_stands`: what zero beat was off by behind the mixer need not be measured again.
    """

    error_hz: Estimate | None = None
    behind_hz: Estimate | None = None
    half_zone_hz: Estimate | None = None
    behind_stands: bool = False


NOTHING_KNOWN = Known()


class Gauge(Protocol):
    """Something that tells an oscillator's error, as often as it is asked."""

    def ready(self) -> Generator[Request, Any, Pull | None]:
        """Have the leads connected and find out once what disturbs; give the pick-up's pull where there is one."""

    def read(self, expected_hz: Estimate | None = None) -> Generator[Request, Any, Reading]:
        """Measure the error. Where it should be, if that is known, saves a person questions.

        Raises:
            SequenceError: it cannot be told; the sentence says why.
        """

    def watched(self, within_hz: float) -> LiveGauge | None:
        """Give what shows the error while a hand turns, to within a good zone; None where only ears can follow."""


def gauge_for(
    receiver: Receiver,
    way: Way,
    subject: str,
    nominal_hz: float,
    at: DialSetting,
    limit_hz: float,
    known: Known = NOTHING_KNOWN,
    kept: Kept | None = None,
) -> Gauge:
    """Give the gauge of a way to measure the oscillator `subject` ('conversion.KEY' or 'beat_oscillator')."""
    if way.name is WayName.COUNT:
        return CountGauge(way, nominal_hz, others_hz(receiver, subject, at), kept or Kept())
    if way.name is WayName.BY_EAR:
        ear = Ear(known.half_zone_hz)
        return BeatGauge(receiver, way, subject, at, limit_hz, ear.zero_beat, ear, known)
    return BeatGauge(receiver, way, subject, at, limit_hz, counted_zero(receiver))


def counted_zero(receiver: Receiver) -> FindZero:
    """Give a zero beat found by two counted beats, both within the last IF's passband at its widest."""
    width_hz = last_width_hz(receiver)

    def find(sought: Sought) -> Generator[Request, Any, Estimate]:
        return (yield from zero_beat(sought.target_hz, width_hz, SETTLE_S))

    return find


def last_width_hz(receiver: Receiver) -> float:
    """Give the 3 dB width of the last IF at its widest."""
    return widest_khz(receiver.ifs[ifs_in_order(receiver)[-1]]) * HZ_PER_KHZ


def others_hz(receiver: Receiver, subject: str, at: DialSetting) -> dict[str, float]:
    """Give the other oscillators of a receiver, by name, and where each should be at a dial setting."""
    found = {
        entry.oscillator: oscillator_khz(entry, at) * HZ_PER_KHZ
        for key, entry in receiver.conversions.items()
        if f"conversion.{key}" != subject
    }
    if receiver.beat_oscillator is not None and subject != BEAT_OSCILLATOR:
        found["beat oscillator"] = receiver.beat_oscillator.centre_khz * HZ_PER_KHZ
    return found


class CountGauge:
    """The oscillator counted directly, its pick-up's pull found once and carried in every figure."""

    def __init__(self, way: Way, nominal_hz: float, others_hz: Mapping[str, float], kept: Kept) -> None:
        self._way, self._nominal_hz, self._others_hz, self._kept = way, nominal_hz, others_hz, kept
        self._pull_sigma_hz = 0.0

    def ready(self) -> Generator[Request, Any, Pull | None]:
        """Connect, see that it is this oscillator which is counted, and find the pull, unless it was found before."""
        hookup, cautions = self._way.hookup, self._way.cautions
        lead = ("pull", hookup.counter_to, hookup.counter_through, self._nominal_hz)
        pull = self._kept.of_hookup(lead, Pull)
        if pull is None:
            yield from connect(hookup, cautions)
            near = yield from self._count()
            pull = yield from find_pull(hookup, near)
            self._kept.keep_of_hookup(lead, pull)
        else:
            yield from connect(moved_off(hookup), cautions)
        self._pull_sigma_hz = pull.left_sigma_hz
        return pull

    def read(self, expected_hz: Estimate | None = None) -> Generator[Request, Any, Reading]:  # noqa: ARG002 - a count needs no hint
        """Count."""
        counted = yield from self._count()
        sigma_hz = math.hypot(counted.sigma, self._pull_sigma_hz)
        return Reading(Estimate(counted.value - self._nominal_hz, sigma_hz))

    def watched(self, within_hz: float) -> LiveGauge:
        """Give a single count, as short as the good zone allows."""
        return CountedError(self._nominal_hz, within_hz)

    def _count(self) -> Generator[Request, Any, Estimate]:
        return (yield from count_what_is_meant(self._way.hookup, self._nominal_hz, self._others_hz))


class BeatGauge:
    """The oscillator by zero beat with the source; a mixer's oscillator by two, the source before and behind it."""

    def __init__(
        self,
        receiver: Receiver,
        way: Way,
        subject: str,
        at: DialSetting,
        limit_hz: float,
        find_zero: FindZero,
        ear: Ear | None = None,
        known: Known = NOTHING_KNOWN,
    ) -> None:
        self._receiver, self._way, self._at, self._limit_hz = receiver, way, at, limit_hz
        self._find_zero, self._ear, self._known = find_zero, ear, known
        self._key = None if subject == BEAT_OSCILLATOR else subject.removeprefix("conversion.")
        self._behind = known.behind_hz if known.behind_stands else None

    def ready(self) -> Generator[Request, Any, None]:
        """Connect; behind the mixer first, which its oscillator does not change."""
        behind = None if self._known.behind_stands else self._behind_the_mixer()
        if behind is not None and self._key is not None:
            yield from self._connect(behind)
            expected = self._known.behind_hz or Estimate(0.0, self._receiver.limits.beat_oscillator_hz or UNTOLD_HZ)
            self._behind = yield from self._beat(
                self._receiver.conversions[self._key].gives, _a_moment_ago(expected), REPORTED
            )
        if behind is None or behind.source_to != self._way.hookup.source_to:
            yield from self._connect(self._way.hookup)

    def read(self, expected_hz: Estimate | None = None) -> Generator[Request, Any, Reading]:
        """Find zero beat through the mixer, and take off what is not the mixer's."""
        nearness = REPORTED if expected_hz is None else ON_THE_WAY
        expected = expected_hz or self._known.error_hz or Estimate(0.0, SPREAD_IN_LIMITS * self._limit_hz)
        through = yield from self._beat(self._enters, self._through(_a_moment_ago(expected)), nearness)
        half = None if self._ear is None else self._ear.half_zone_hz
        return dataclasses.replace(self._reading(through), behind_hz=self._behind, half_zone_hz=half)

    def _through(self, error_hz: Estimate) -> Estimate:
        """Give what zero beat through the mixer is off by where the oscillator itself is off by so much."""
        sign = self._reading(Estimate(1.0, 0.0)).error_hz.value - self._reading(Estimate(0.0, 0.0)).error_hz.value
        behind = self._behind or Estimate(0.0, 0.0)
        return Estimate(behind.value + sign * error_hz.value, math.hypot(behind.sigma, error_hz.sigma))

    def watched(self, within_hz: float) -> LiveGauge | None:  # noqa: ARG002 - a beat is as fine as its gate
        """Give two beats counted in turns; None where the beat is only heard."""
        if self._way.name is WayName.BY_EAR:
            return None
        nominal_hz = self._nominal_khz(self._enters) * HZ_PER_KHZ
        return BeatError(nominal_hz, OFFSET_IN_WIDTHS * last_width_hz(self._receiver), SETTLE_S, self._error_of)

    def _error_of(self, zero_hz: Estimate) -> Estimate:
        """Give the oscillator's error with zero beat there."""
        nominal_hz = self._nominal_khz(self._enters) * HZ_PER_KHZ
        turned_over = self._turned_over_from(self._enters)
        return self._reading(error_at_beat(zero_hz, nominal_hz, turned_over=turned_over)).error_hz

    @property
    def _enters(self) -> str | None:
        """What the source gives; None for the beat oscillator's own nominal."""
        return None if self._key is None else self._receiver.conversions[self._key].takes

    def _reading(self, through: Estimate) -> Reading:
        if self._key is None:
            return Reading(through)
        entry = self._receiver.conversions[self._key]
        after = self._turned_over_from(entry.gives)
        if self._behind is None:
            alone = mixer_oscillator_error(through, Estimate(0.0, 0.0), entry.side, turned_over_after=after)
            return Reading(alone, shared=True)
        error_hz = mixer_oscillator_error(through, self._behind, entry.side, turned_over_after=after)
        return Reading(error_hz, agreement(through, self._behind, self._limit_hz))

    def _behind_the_mixer(self) -> Hookup | None:
        if self._key is None:
            return None
        point = source_nearest_next_mixer(self._receiver, self._receiver.conversions[self._key].gives)
        if point is None:
            return None
        through = self._receiver.source_points[point].through
        return dataclasses.replace(self._way.hookup, source_to=point, source_through=through)

    def _connect(self, hookup: Hookup) -> Generator[Request, Any, None]:
        yield from connect(hookup, cautions_for(self._receiver, hookup))
        yield from set_power(self._receiver.source_points[hookup.source_to or ""].level_dbm)

    def _beat(
        self, what: str | None, expected_hz: Estimate, nearness: tuple[float, float]
    ) -> Generator[Request, Any, Estimate]:
        """Give the beat oscillator's error against the source as the IF or signal `what`; None: on its own nominal."""
        nominal_hz, turned_over = self._nominal_khz(what) * HZ_PER_KHZ, self._turned_over_from(what)
        off_hz = -expected_hz.value if turned_over else expected_hz.value
        yield from set_frequency(nominal_hz)
        yield from set_output(True)
        sought = Sought(nominal_hz, Estimate(nominal_hz + off_hz, expected_hz.sigma), *nearness)
        zero_hz = yield from self._find_zero(sought)
        yield from set_output(False)
        return error_at_beat(zero_hz, nominal_hz, turned_over=turned_over)

    def _nominal_khz(self, what: str | None) -> float:
        if what is not None:
            return frequency_khz(self._receiver, what, self._at)
        if self._receiver.beat_oscillator is None:
            raise SequenceError("This receiver has no beat oscillator, so nothing can be brought to zero beat.")
        return self._receiver.beat_oscillator.centre_khz

    def _turned_over_from(self, what: str | None) -> bool:
        """Tell whether what enters as that IF or signal arrives with its sidebands swapped."""
        order = conversions_in_order(self._receiver)
        takes = [self._receiver.conversions[key].takes for key in order]
        behind = order[takes.index(what) :] if what in takes else ()
        return sum(self._receiver.conversions[key].side == "high" for key in behind) % 2 == 1


def _a_moment_ago(error_hz: Estimate) -> Estimate:
    return Estimate(error_hz.value, math.hypot(error_hz.sigma, SINCE_HZ))
