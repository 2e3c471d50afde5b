"""Which injection, measuring and counting point serves a purpose.

Source points stand in the file in the order the signal meets them.
"""

from sequences.receiver.chain import ifs_in_order, widest_khz
from sequences.receiver.model import Filter, MeterPoint, Receiver


def source_with_all_behind(receiver: Receiver, what: str) -> str | None:
    """Name the first point that `what` ('signal' or the key of an IF) may enter with everything tuned to it behind."""
    points = receiver.source_points.items()
    return next((name for name, point in points if what in point.enters and point.after_filter is None), None)


def source_nearest_next_mixer(receiver: Receiver, what: str) -> str | None:
    """Name the last point that `what` may enter: the least of the receiver lies behind."""
    names = [name for name, point in receiver.source_points.items() if what in point.enters]
    return names[-1] if names else None


def source_before_filter(receiver: Receiver, filter_key: str) -> str | None:
    """Name the last point known to lie before a filter: the mixer that makes its IF, or behind an earlier filter.

    A point that the file puts behind this filter, or behind a later one, never serves: the circuit would not stand
    between source and meter. None where only such points are there.
    """
    intermediate = receiver.filters[filter_key].intermediate
    own = list(filters_of(receiver, intermediate))
    earlier = own[: own.index(filter_key)]
    best = None
    for name, point in receiver.source_points.items():
        if intermediate not in point.enters:
            continue
        if point.after_filter in earlier or (point.after_filter is None and best is None):
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


def level_point(receiver: Receiver) -> tuple[str, MeterPoint] | None:
    """Name the point where the signal's level is read, and give its entry: the detector, else the AGC line.

    The AGC line, and with it the signal meter, tells the same level: compressed, slowly, and by a law that is learnt
    from the source's own steps.
    """
    return meter_that_reads(receiver, "detector") or meter_that_reads(receiver, "agc line")


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


def drifting_oscillator(receiver: Receiver) -> tuple[str, str] | None:
    """Give the reference and the counting point of the one to watch: tunable, or else any but a crystal."""
    for kind in ("tunable", "fixed"):
        for key, entry in receiver.conversions.items():
            point = counter_of(receiver, f"conversion.{key}")
            if entry.oscillator_kind == kind and point is not None:
                return f"conversion.{key}", point
    point = counter_of(receiver, "beat_oscillator")
    return None if point is None else ("beat_oscillator", point)
