"""The figures of a step that looks at several places, one row a place: what paper and page both tabulate."""

from collections.abc import Iterable
from dataclasses import dataclass

from sequences.quantities import Quantity
from server.report.pairs import Pair


@dataclass(frozen=True, slots=True)
class PlaceFigures:
    """One place with its figures; `judged` is the one that has a limit wherever it could be had."""

    where: str
    pairs: tuple[Pair, ...]
    judged: Pair | None

    def get(self, quantity: Quantity) -> Pair | None:
        """Give one figure of the place, None where it was not taken."""
        return next((pair for pair in self.pairs if pair.quantity == quantity), None)


@dataclass(frozen=True, slots=True)
class ByPlace:
    """All places in the order they were measured; `limited` is a figure that was held against its limit."""

    quantities: tuple[Quantity, ...]
    places: tuple[PlaceFigures, ...]
    limited: Pair | None


def places_of(pairs: Iterable[Pair]) -> ByPlace:
    """Put the figures of each place side by side, those without a limit first."""
    kept = tuple(pairs)
    quantities = sorted(dict.fromkeys(pair.quantity for pair in kept), key=lambda each: each.sense is not None)
    rows = {
        where: tuple(pair for pair in kept if pair.where == where) for where in dict.fromkeys(p.where for p in kept)
    }
    limited = next((pair for pair in kept if pair.has_limit), None)
    return ByPlace(
        tuple(quantities),
        tuple(PlaceFigures(where, own, _judged(own)) for where, own in rows.items()),
        limited,
    )


def _judged(pairs: tuple[Pair, ...]) -> Pair | None:
    return next((pair for pair in pairs if pair.quantity.sense is not None), None)
