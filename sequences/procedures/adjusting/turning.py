"""Have adjusters turned, and keep the account: how far each went, and which of them could not go on."""

from collections.abc import Generator
from dataclasses import dataclass, field
from typing import Any

from sequences.alignment.outcome import Stuck, StuckAdjuster, Turned
from sequences.engine.asks import turn
from sequences.engine.requests import Request


@dataclass(slots=True)
class Hand:
    """The account of one step's turns. A turn that could not be made in full is not counted: nobody knows how far.

    `by_meter` names what was turned live, with an eye on the reading: nobody counted. `fast` says of each adjuster that
    could not be turned the last time why; one that never moved is seized.
    """

    turns: dict[str, float] = field(default_factory=dict)
    by_meter: set[str] = field(default_factory=set)
    fast: dict[str, Stuck] = field(default_factory=dict)

    def turn(
        self, adjuster: str, turns: float, why: str, scale_unit: str | None = None
    ) -> Generator[Request, Any, bool]:
        """Have an adjuster turned, clockwise or up its scale where positive; give whether it could be."""
        could = yield from turn(adjuster, turns, why, scale_unit)
        if could:
            self.add(Turned(adjuster, turns))
        else:
            self.could_not(adjuster)
        return could

    def could_not(self, adjuster: str) -> None:
        """Enter an adjuster that could not be turned, or no further."""
        self.found(adjuster, Stuck.END_OF_TRAVEL if adjuster in self.turns else Stuck.SEIZED)

    def found(self, adjuster: str, how: Stuck) -> None:
        """Enter how an adjuster stands that cannot be brought to where it belongs."""
        self.fast[adjuster] = how

    def add(self, *made: Turned) -> None:
        """Enter turns that were made."""
        for each in made:
            self.turns[each.adjuster] = self.turns.get(each.adjuster, 0.0) + (each.turns or 0.0)
            self.fast.pop(each.adjuster, None)
            if each.turns is None:
                self.by_meter.add(each.adjuster)

    def turned(self) -> tuple[Turned, ...]:
        """Give what was turned in all."""
        return tuple(Turned(name, None if name in self.by_meter else turns) for name, turns in self.turns.items())

    def stuck(self) -> tuple[StuckAdjuster, ...]:
        """Give what could not be turned in the end."""
        return tuple(StuckAdjuster(name, how) for name, how in self.fast.items())
