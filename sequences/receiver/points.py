"""Which injection, measuring and counting point serves a purpose.

Source points stand in the file in the order the signal meets them.
"""

from sequences.receiver.chain import ifs_in_order, widest_khz
from sequences.receiver.model import Filter, MeterPoint, Receiver


def source_with_all_behind(receiver: Receiver, what: str) -> str | None:
    """Name the first point that `what` ('signal' or the key of an IF) may enter: everything tuned to it lies behind."""
    return next((name for name, point in receiver.source_points.items() if what in point.enters), None)


def source_nearest_next_mixer(receiver: Receiver, what: str) -> str | None:
    """Name the last point that `what` may enter: the least of the receiver lies behind."""
    names = [name for name, point in receiver.source_points.items() if what in point.enters]
    return names[-1] if names else None


def source_before_filter(receiver: Receiver, filter_key: str) -> str | None:
    """Name the last point known to lie before a filter: the mixer that makes its IF, or behind an earlier filter."""
    intermediate = receiver.filters[filter_key].intermediate
    earlier: list[str] = []
    for key in filters_of(receiver, intermediate):
        if key == filter_key:
            break
        earlier.append(key)
    best = source_with_all_behind(receiver, intermediate)
    for name, point in receiver.source_points.items():
        if intermediate in point.enters and point.after_filter in earlier:
            best = name
    return best


def filters_of(receiver: Receiver, intermediate: str) -> dict[str, Filter]:
    """Give the filters of an IF, in the order the signal meets them."""
    return {key: entry for key, entry in receiver.filters.items() if entry.intermediate == intermediate}


def meter_that_reads(receiver: Receiver, reads: str, at: str | None = None) -> tuple[str, MeterPoint] | None:
    """Name the measuring point of a kind, and give its entry."""
    for name, point in receiver.meter_points.items():
        if point.reads == reads and at in (None, point.at):
            return name, point
    return None


def counter_of(receiver: Receiver, counts: str) -> str | None:
    """Name the counting point of an oscillator ('conversion.KEY', 'beat_oscillator') or of the audio."""
    return next((name for name, point in receiver.counter_points.items() if point.counts == counts), None)


def swept_ifs(receiver: Receiver) -> tuple[str, ...]:
    """Give the fixed IFs whose passband a sweep of the source can show: no narrower IF comes after them."""
    order = ifs_in_order(receiver)
    shown = []
    for place, key in enumerate(order):
        entry = receiver.ifs[key]
        later = [widest_khz(receiver.ifs[other]) for other in order[place + 1 :]]
        if entry.centre_khz is not None and all(widest_khz(entry) <= width for width in later):
            shown.append(key)
    return tuple(shown)
