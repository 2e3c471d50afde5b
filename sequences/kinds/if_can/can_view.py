"""How a can is to be seen: by its own edges where it can be isolated, by step and fit where it cannot, and why."""

from dataclasses import dataclass, replace

from sequences.alignment.outcome import Task
from sequences.numerics.adjusters.edge_balance import judge_window
from sequences.plan.content import WayName
from sequences.procedures.sweeps.place import HZ_PER_KHZ, Place, place_of
from sequences.receiver.model import Receiver
from sequences.receiver.points import filters_of, source_before_filter
from sequences.receiver.windows import View, window_name, window_of

EDGE_WAYS = (WayName.EDGE_BALANCE, WayName.HUMP_BALANCE, WayName.SWEEP)


@dataclass(frozen=True, slots=True)
class CanView:
    """The way taken, with the hookup of the can and, where something tuned stands behind it, of that alone.

    `refused` says why a sweep that was asked for shows something else; `because` why step and fit is taken.
    """

    by_edges: bool
    place: Place
    downstream: Place | None
    because: str | None = None
    refused: str | None = None


def view_of(task: Task) -> CanView:
    """Decide how a step's can is seen; a way by edges stands only where nothing narrower follows the can."""
    key = task.step.subject.removeprefix("filter.")
    place = place_of(task.receiver, task.way.hookup)
    window = window_of(task.receiver, task.step.subject)
    if task.way.name not in EDGE_WAYS:
        return CanView(by_edges=False, place=place, downstream=None, because=_sentence(task.way.because))
    if window.view is View.THROUGH_NARROWER and window.through_khz is not None:
        doubt = judge_window(window.width_khz * HZ_PER_KHZ, window.through_khz * HZ_PER_KHZ)
        refused = doubt.text if doubt is not None else None
        return CanView(by_edges=False, place=place, downstream=None, refused=refused)
    downstream = _downstream(task.receiver, key, place)
    if downstream is None and window.through is not None:
        through = window_name(task.receiver, window.through)
        because = (
            f"No source point lies between {key} and {through}, so its edges cannot be told from those of what "
            "follows: the level against equal steps is fitted instead."
        )
        return CanView(by_edges=False, place=place, downstream=None, because=because)
    return CanView(by_edges=True, place=place, downstream=downstream)


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _downstream(receiver: Receiver, key: str, place: Place) -> Place | None:
    """Give the hookup that shows what stands behind a filter and nothing else: the source enters right after it."""
    intermediate = receiver.filters[key].intermediate
    own = list(filters_of(receiver, intermediate))
    behind = own[own.index(key) + 1 :]
    for point, entry in receiver.source_points.items():
        if behind and entry.after_filter == key and source_before_filter(receiver, behind[0]) == point:
            hookup = replace(place.hookup, source_to=point, source_through=entry.through)
            return place_of(receiver, hookup)
    return None
