"""Ways to find an oscillator's error: counted by a pick-up, or by zero beat with the source, counted or heard."""

import dataclasses
import math
from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Any, Protocol

from sequences.engine.asks import connect
from sequences.engine.requests import Request
from sequences.engine.steps import set_frequency, set_output, set_power
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.ear_search import USUAL_HALF_ZONE_HZ, Note
from sequences.numerics.oscillators.two_injections import Agreement, agreement, error_at_beat, mixer_oscillator_error
from sequences.plan.content import Way, WayName
from sequences.procedures.adjusting.live_adjusting import LiveGauge
from sequences.procedures.adjusting.live_gauges import BeatError, CountedError
from sequences.procedures.oscillators.by_ear import Ear
from sequences.procedures.oscillators.pick_up import Pull, count, find_pull
from sequences.procedures.oscillators.zero_beat import OFFSET_IN_WIDTHS, zero_beat
from sequences.receiver.chain import DialSetting, conversions_in_order, frequency_khz, ifs_in_order, widest_khz
from sequences.receiver.hookups import Hookup, cautions_for
from sequences.receiver.model import Receiver
from sequences.receiver.points import source_nearest_next_mixer

HZ_PER_KHZ = 1000.0
SETTLE_S = 0.1
"""Before a beat is counted: the last filter's ringing and the audio's coupling capacitors settle within it."""

BEAT_OSCILLATOR = "beat_oscillator"

FindZero = Callable[[float], Generator[Request, Any, Estimate]]
"""Give the source's frequency of zero beat, near where it should be."""


@dataclass(frozen=True, slots=True)
class Reading:
    """An oscillator's error in Hz, positive where it is high; and how two injection points agree, where there are two.

    `shared`: the beat oscillator's own error is in the figure, because nothing may be let in behind the mixer.
    """

    error_hz: Estimate
    agreement: Agreement | None = None
    shared: bool = False


class SideGauge(Protocol):
    """Something that tells by ear which side an oscillator's error is on. `half_zone_hz`: how far off it is silent."""

    @property
    def half_zone_hz(self) -> float:
        """Give half the width of the silent zone, as learnt, or else as is usual."""

    def side(self) -> Generator[Request, Any, int]:
        """Give +1 where the oscillator is too high, -1 too low, 0 where no note is heard that would tell.

        Raises:
            SequenceError: the person could not tell.
        """


class Gauge(Protocol):
    """Something that tells an oscillator's error, as often as it is asked."""

    def ready(self) -> Generator[Request, Any, Pull | None]:
        """Have the leads connected and find out once what disturbs; give the pick-up's pull where there is one."""

    def read(self) -> Generator[Request, Any, Reading]:
        """Measure the error.

        Raises:
            SequenceError: it cannot be told; the sentence says why.
        """

    def watched(self, within_hz: float) -> LiveGauge | None:
        """Give what shows the error while a hand turns, to within a good zone; None where only ears can follow."""

    def sided(self) -> SideGauge | None:
        """Give what tells in one question which side the error is on; None where the error itself is as quickly had."""


def gauge_for(receiver: Receiver, way: Way, subject: str, nominal_hz: float, at: DialSetting, limit_hz: float) -> Gauge:
    """Give the gauge of a way to measure the oscillator `subject` ('conversion.KEY' or 'beat_oscillator')."""
    if way.name is WayName.COUNT:
        return CountGauge(way, nominal_hz)
    if way.name is WayName.BY_EAR:
        ear = Ear()
        return BeatGauge(receiver, way, subject, at, limit_hz, ear.zero_beat, ear)
    return BeatGauge(receiver, way, subject, at, limit_hz, counted_zero(receiver))


def counted_zero(receiver: Receiver) -> FindZero:
    """Give a zero beat found by two counted beats, both within the last IF's passband at its widest."""
    width_hz = last_width_hz(receiver)

    def find(near_hz: float) -> Generator[Request, Any, Estimate]:
        return (yield from zero_beat(near_hz, width_hz, SETTLE_S))

    return find


def last_width_hz(receiver: Receiver) -> float:
    """Give the 3 dB width of the last IF at its widest."""
    return widest_khz(receiver.ifs[ifs_in_order(receiver)[-1]]) * HZ_PER_KHZ


class CountGauge:
    """The oscillator counted directly, its pick-up's pull found once and carried in every figure."""

    def __init__(self, way: Way, nominal_hz: float) -> None:
        self._way, self._nominal_hz = way, nominal_hz
        self._pull_sigma_hz = 0.0

    def ready(self) -> Generator[Request, Any, Pull | None]:
        """Connect, and find the pull."""
        yield from connect(self._way.hookup, self._way.cautions)
        pull = yield from find_pull(self._way.hookup)
        self._pull_sigma_hz = pull.left_sigma_hz
        return pull

    def read(self) -> Generator[Request, Any, Reading]:
        """Count."""
        counted = yield from count("oscillator")
        sigma_hz = math.hypot(counted.sigma, self._pull_sigma_hz)
        return Reading(Estimate(counted.value - self._nominal_hz, sigma_hz))

    def watched(self, within_hz: float) -> LiveGauge:
        """Give a single count, as short as the good zone allows."""
        return CountedError(self._nominal_hz, within_hz)

    def sided(self) -> None:
        """A count gives the error at once."""


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
    ) -> None:
        self._receiver, self._way, self._at, self._limit_hz = receiver, way, at, limit_hz
        self._find_zero, self._ear = find_zero, ear
        self._key = None if subject == BEAT_OSCILLATOR else subject.removeprefix("conversion.")
        self._behind: Estimate | None = None

    def ready(self) -> Generator[Request, Any, None]:
        """Connect; behind the mixer first, which its oscillator does not change."""
        behind = self._behind_the_mixer()
        if behind is not None and self._key is not None:
            yield from self._connect(behind)
            self._behind = yield from self._beat(self._receiver.conversions[self._key].gives)
        if behind is None or behind.source_to != self._way.hookup.source_to:
            yield from self._connect(self._way.hookup)

    def read(self) -> Generator[Request, Any, Reading]:
        """Find zero beat through the mixer, and take off what is not the mixer's."""
        return self._reading((yield from self._beat(self._enters)))

    def watched(self, within_hz: float) -> LiveGauge | None:  # noqa: ARG002 - a beat is as fine as its gate
        """Give two beats counted in turns; None where the beat is only heard."""
        if self._way.name is WayName.BY_EAR:
            return None
        nominal_hz = self._nominal_khz(self._enters) * HZ_PER_KHZ
        return BeatError(nominal_hz, OFFSET_IN_WIDTHS * last_width_hz(self._receiver), SETTLE_S, self._error_of)

    def sided(self) -> SideGauge | None:
        """By ear, give itself."""
        return None if self._ear is None else self

    @property
    def half_zone_hz(self) -> float:
        """Give half the width of the silent zone."""
        half = None if self._ear is None else self._ear.half_zone_hz
        return USUAL_HALF_ZONE_HZ if half is None else half.value

    def side(self) -> Generator[Request, Any, int]:
        """Put the source where zero beat belongs, and listen on which side of it the note is."""
        if self._ear is None:
            raise SequenceError("Only an ear is asked for the side.")
        at_hz = self._nominal_khz(self._enters) * HZ_PER_KHZ
        off_hz = self._error_of(Estimate(at_hz, 0.0)).value
        slope = self._error_of(Estimate(at_hz + 1.0, 0.0)).value - off_hz
        yield from set_output(True)
        note = yield from self._ear.side(at_hz - off_hz / slope)
        yield from set_output(False)
        beyond = {Note.ROSE: -1, Note.FELL: 1, Note.SILENT: 0}[note]
        return beyond if slope > 0.0 else -beyond

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

    def _beat(self, what: str | None) -> Generator[Request, Any, Estimate]:
        """Give the beat oscillator's error against the source as the IF or signal `what`; None: on its own nominal."""
        nominal_hz = self._nominal_khz(what) * HZ_PER_KHZ
        yield from set_frequency(nominal_hz)
        yield from set_output(True)
        zero_hz = yield from self._find_zero(nominal_hz)
        yield from set_output(False)
        return error_at_beat(zero_hz, nominal_hz, turned_over=self._turned_over_from(what))

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
