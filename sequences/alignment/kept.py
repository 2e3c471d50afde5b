"""What one run of a step leaves for the next while nothing was moved: it spares a person questions.

Nothing of it is a figure by itself: whoever takes something up again checks it by one measurement where the controls
stand, and measures all anew where that does not agree.
"""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import TypeVar

T = TypeVar("T")

KEPT_FOR_S = 900.0
"""So long a receiver that has warmed up stands as it was measured (common practice, no source)."""


def _no_clock() -> float:
    return 0.0


@dataclass(slots=True)
class Kept:
    """A table of figures belongs to the step that is on; what a hookup showed lasts while its leads may stand."""

    now_s: Callable[[], float] = _no_clock
    _figures: dict[Hashable, tuple[float, object]] = field(default_factory=dict)
    _of_hookups: dict[Hashable, tuple[float, object]] = field(default_factory=dict)

    def keep_figures(self, key: Hashable, figures: object) -> None:
        """Leave the figures of a step as it stands now."""
        self._figures[key] = (self.now_s(), figures)

    def take_figures(self, key: Hashable, kind: type[T]) -> T | None:
        """Take figures up, once: whoever turns something must leave new ones. None: none, or old."""
        return self._recent(self._figures.pop(key, None), kind)

    def keep_of_hookup(self, key: Hashable, shown: object) -> None:
        """Leave what a hookup showed about itself."""
        self._of_hookups[key] = (self.now_s(), shown)

    def of_hookup(self, key: Hashable, kind: type[T]) -> T | None:
        """Give what a hookup showed about itself; None where that is not known or old."""
        return self._recent(self._of_hookups.get(key), kind)

    def forget_figures(self) -> None:
        """Something was moved, or is to be measured again."""
        self._figures.clear()

    def _recent(self, entry: tuple[float, object] | None, kind: type[T]) -> T | None:
        if entry is None or self.now_s() - entry[0] > KEPT_FOR_S or not isinstance(entry[1], kind):
            return None
        return entry[1]
