"""The stages of an IF that can be told apart: each begins where the source may enter, and the last comes first."""

from dataclasses import dataclass, replace

from sequences.procedures.sweeps.place import Place, place_of
from sequences.receiver.hookups import Hookup
from sequences.receiver.model import Receiver
from sequences.receiver.points import filters_of, source_before_filter


@dataclass(frozen=True, slots=True)
class Stage:
    """Filters between one source point and the next; `place` shows them together with everything behind them."""

    filters: tuple[str, ...]
    place: Place

    @property
    def name(self) -> str:
        """Give what stands between the two points."""
        return " and ".join(self.filters)


def stages_from_last(receiver: Receiver, intermediate: str, hookup: Hookup) -> tuple[Stage, ...]:
    """List the stages of an IF, the last first, each seen with the controls of a hookup.

    The first stage of the signal, listed last, is seen from the hookup's own source point and shows the whole.
    """
    stages: list[Stage] = []
    for key in reversed(filters_of(receiver, intermediate)):
        point = source_before_filter(receiver, key)
        if point is None:
            continue
        if stages and stages[-1].place.hookup.source_to == point:
            stages[-1] = replace(stages[-1], filters=(key, *stages[-1].filters))
            continue
        through = receiver.source_points[point].through
        place = place_of(receiver, replace(hookup, source_to=point, source_through=through))
        stages.append(Stage((key,), place))
    return tuple(stages)
