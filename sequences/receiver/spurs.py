"""The spur chart: where a receiver hears what it should not, by arithmetic alone, before anything is measured.

Two sorts. A response: a strong station off the dial's frequency, of which a mixer's curvature makes the IF. A whistle:
the receiver's own oscillators, or its own IF, whose harmonics fall where it is tuned. Both follow from m f1 +- n f2;
the order is m + n, and each order more is weaker as a rule.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product

from sequences.receiver.chain import (
    DialSetting,
    conversions_in_order,
    dial_ends,
    for_band,
    frequency_khz,
    ifs_in_order,
    oscillator_khz,
    widest_khz,
)
from sequences.receiver.frequency_plan import Side, image_rejection_db, input_khz
from sequences.receiver.model import SIGNAL, Conversion, Receiver

RESPONSE_ORDER = 5
WHISTLE_ORDER = 5
ALIKE = 1e-9
"""The part of a frequency, or of the dial's travel, within which two are the same."""

PARALLEL_KHZ = 1e-6
"""Two that come no nearer over the whole dial than this run in step."""

_NAMES = {(1, 1): "image", (2, 2): "half-IF", (1, 0): "IF breakthrough"}


@dataclass(frozen=True, slots=True)
class Response:
    """A frequency off the signal that the receiver hears: `signal_harmonic` times it, and an oscillator's, make an IF.

    `mixer_khz` stands at the mixer's input, `antenna_khz` where it comes in. `weakened_db` is what the tuned circuits
    before that mixer should take off: a product of the m-th power of a signal loses m decibels for each.
    """

    conversion: str
    signal_harmonic: int
    oscillator_harmonic: int
    mixer_khz: float
    antenna_khz: float
    weakened_db: float

    @property
    def order(self) -> int:
        """Give the order of the product."""
        return self.signal_harmonic + self.oscillator_harmonic

    @property
    def name(self) -> str:
        """Name it in trade terms, or nothing."""
        return _NAMES.get((self.signal_harmonic, self.oscillator_harmonic), "")


@dataclass(frozen=True, slots=True)
class Whistle:
    """A place of the dial where the receiver's own frequencies make one that it listens to.

    `first` and `second` are names with their harmonics, the second with its sign; `falls_on` is 'signal' or the key
    of an IF. `at` is where on the dial; None: all over the dial.
    """

    band: str
    first: tuple[int, str]
    second: tuple[int, str] | None
    falls_on: str
    at: DialSetting | None

    @property
    def order(self) -> int:
        """Give the order of the product."""
        return self.first[0] + (abs(self.second[0]) if self.second else 0)


def spurious_responses(
    receiver: Receiver, setting: DialSetting, most_order: int = RESPONSE_ORDER
) -> tuple[Response, ...]:
    """List what else every mixer turns into its IF at one dial setting, the least weakened first.

    f = (n f_osc +- f_IF) / m for m from 1 and n from 0. Source: Kennedy, Electronic Communication Systems, chapter 6,
    for the image (m = n = 1); R. Carson, Radio Concepts: Analog, for the others; both from memory.
    """
    found: list[Response] = []
    before: list[_Before] = []
    for key in conversions_in_order(receiver):
        entry = receiver.conversions[key]
        oscillator = oscillator_khz(entry, setting)
        takes, gives = (frequency_khz(receiver, what, setting) for what in (entry.takes, entry.gives))
        for m, n, at_mixer in _inputs(oscillator, gives, takes, most_order):
            at_antenna, off_db = _back_to_antenna(receiver, at_mixer, before)
            if at_antenna > 0:
                off_db += _preselector_db(receiver, setting, at_antenna)
                found.append(Response(key, m, n, at_mixer, at_antenna, m * off_db))
        before.append(_Before(entry.side, oscillator, entry.gives, gives))
    return tuple(sorted(found, key=lambda one: (one.weakened_db, one.order)))


def whistles(receiver: Receiver, band: str, most_order: int = WHISTLE_ORDER) -> tuple[Whistle, ...]:
    """List where on a band's dial the receiver's own frequencies fall on the signal or an IF, the lowest order first.

    Pairs are of the conversions' oscillators. A beat oscillator and the fixed IFs give harmonics only: what a beat
    oscillator makes together with its own conversion is itself, and an IF is there only with a signal. Source for the
    IF's harmonics: F. Langford-Smith, Radio Designer's Handbook, 4th edition, whistles at two and three times the IF;
    from memory.
    """
    low, high = dial_ends(receiver, band)
    signal, *ifs = (_listens(receiver, what, low, high) for what in (SIGNAL, *ifs_in_order(receiver)))
    listening = (signal, *ifs)
    own = [_Source(entry.oscillator, _ends(entry, low, high)) for entry in _conversions(receiver)]
    found = [one for source in own for one in _harmonics(source, listening, low, high, most_order)]
    for each in ifs:
        found += _harmonics(_Source(receiver.ifs[each.what].name, each.khz), (signal,), low, high, most_order)
    beat = receiver.beat_oscillator
    if beat is not None:
        alone = _Source("beat oscillator", (beat.centre_khz, beat.centre_khz))
        heard = _harmonics(alone, listening, low, high, most_order)
        found += [one for one in heard if (one.first[0], one.falls_on) != (1, beat.intermediate)]
    for first, second in combinations(own, 2):
        found += _pairs(first, second, listening, low, high, most_order)
    return tuple(sorted(found, key=lambda one: (one.order, one.at.dial_khz if one.at else -1.0)))


_Ends = tuple[float, float]
"""Frequencies in kHz at the low and at the high end of the dial, straight in between."""


@dataclass(frozen=True, slots=True)
class _Source:
    """What makes harmonics."""

    name: str
    khz: _Ends


@dataclass(frozen=True, slots=True)
class _Listens:
    """What is listened to; how far off a product may be and still come through."""

    what: str
    khz: _Ends
    half_width_khz: float


@dataclass(frozen=True, slots=True)
class _Before:
    """A conversion that came before, with the IF behind it, in kHz."""

    side: Side
    oscillator_khz: float
    intermediate: str
    if_khz: float


def _back_to_antenna(receiver: Receiver, at_khz: float, before: list[_Before]) -> tuple[float, float]:
    """Give the frequency at the antenna that comes to a mixer as this one, and what the IFs on the way take off."""
    off_db = 0.0
    for one in reversed(before):
        off_db += _intermediate_db(receiver, one, at_khz - one.if_khz)
        at_khz = input_khz(one.side, at_khz, one.oscillator_khz)
    return at_khz, off_db


def _intermediate_db(receiver: Receiver, one: _Before, off_khz: float) -> float:
    """Give what an IF's filters take off beside its centre.

    n equal circuits with the 3 dB width W take off 10 n log10(1 + (2^(1/n) - 1) (2 d / W)^2). Source: F. Terman, Radio
    Engineers' Handbook, cascaded tuned circuits and their shrinking width.
    """
    widest = widest_khz(receiver.ifs[one.intermediate])
    filters = [each for each in receiver.filters.values() if each.intermediate == one.intermediate]
    taken = [(each.circuits, each.width_khz or widest) for each in filters] or [(1, widest)]
    return sum(10 * n * math.log10(1 + (2 ** (1 / n) - 1) * (2 * off_khz / width) ** 2) for n, width in taken)


def _inputs(oscillator: float, gives: float, takes: float, most_order: int) -> Iterator[tuple[int, int, float]]:
    """Give m, n and the input of every product that makes the IF, the wanted one left out."""
    seen: list[float] = []
    for order in range(1, most_order + 1):
        for m in range(1, order + 1):
            n = order - m
            for sign in (-1, 1):
                at = abs(n * oscillator + sign * gives) / m
                if at > 0 and not any(_alike(at, one) for one in (takes, *seen)):
                    seen.append(at)
                    yield m, n, at


def _harmonics(
    source: _Source, listening: Sequence[_Listens], low: DialSetting, high: DialSetting, most_order: int
) -> Iterator[Whistle]:
    for m in range(1, most_order + 1):
        made = (m * source.khz[0], m * source.khz[1])
        for falls_on, at in _where(made, listening, low, high):
            yield Whistle(low.band, (m, source.name), None, falls_on, at)


def _pairs(
    first: _Source, second: _Source, listening: Sequence[_Listens], low: DialSetting, high: DialSetting, most_order: int
) -> Iterator[Whistle]:
    """Leave out a multiple of a lower product: twice a difference is a harmonic of something weaker still."""
    for m, n, sign in product(range(1, most_order), range(1, most_order), (-1, 1)):
        if m + n <= most_order and math.gcd(m, n) == 1:
            made = (m * first.khz[0] + sign * n * second.khz[0], m * first.khz[1] + sign * n * second.khz[1])
            for falls_on, at in _where(made, listening, low, high):
                yield Whistle(low.band, (m, first.name), (sign * n, second.name), falls_on, at)


def _where(
    made: _Ends, listening: Sequence[_Listens], low: DialSetting, high: DialSetting
) -> Iterator[tuple[str, DialSetting | None]]:
    """Give what a product falls on, and each setting at which it does; None: all over the dial."""
    for each in listening:
        for sense in (1.0, -1.0):
            at_low, at_high = sense * made[0] - each.khz[0], sense * made[1] - each.khz[1]
            if abs(at_low - at_high) <= PARALLEL_KHZ:
                if abs(at_low) <= each.half_width_khz:
                    yield each.what, None
                continue
            travel = at_low / (at_low - at_high)
            if -ALIKE <= travel <= 1.0 + ALIKE:
                yield each.what, _between(low, high, min(max(travel, 0.0), 1.0))


def _between(low: DialSetting, high: DialSetting, travel: float) -> DialSetting:
    dial_khz = low.dial_khz + travel * (high.dial_khz - low.dial_khz)
    signal_khz = low.signal_khz + travel * (high.signal_khz - low.signal_khz)
    return DialSetting(low.band, dial_khz, signal_khz, travel)


def _listens(receiver: Receiver, what: str, low: DialSetting, high: DialSetting) -> _Listens:
    """A signal comes through where it is within half the last IF's width, an IF's own product within half of its."""
    key = ifs_in_order(receiver)[-1] if what == SIGNAL else what
    ends = frequency_khz(receiver, what, low), frequency_khz(receiver, what, high)
    return _Listens(what, ends, widest_khz(receiver.ifs[key]) / 2)


def _preselector_db(receiver: Receiver, setting: DialSetting, at_khz: float) -> float:
    preselector = receiver.preselector
    quality = for_band(preselector.loaded_q, setting.band)
    return image_rejection_db(setting.signal_khz, at_khz, quality, preselector.circuits)


def _conversions(receiver: Receiver) -> Iterator[Conversion]:
    return (receiver.conversions[key] for key in conversions_in_order(receiver))


def _ends(entry: Conversion, low: DialSetting, high: DialSetting) -> _Ends:
    return oscillator_khz(entry, low), oscillator_khz(entry, high)


def _alike(one: float, other: float) -> bool:
    return math.isclose(one, other, rel_tol=ALIKE)
