"""Figures as found beside the same figures as left, whatever the run that gave them called them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.numerics.verdicts.verdict import Judged
from sequences.quantities import Quantity
from server.report.record import StepHistory


@dataclass(frozen=True, slots=True)
class Pair:
    """One figure as found and as left; either is None where it was not measured then."""

    quantity: Quantity
    where: str
    found: Finding | None
    left: Finding | None

    @property
    def name(self) -> str:
        """Give the quantity's name."""
        return self.quantity.name

    @property
    def unit(self) -> str:
        """Give the unit of both figures."""
        return self.quantity.unit

    @property
    def judged(self) -> tuple[Judged | None, Judged | None]:
        """Give how it was judged as found and as left."""
        return _judged(self.found), _judged(self.left)

    @property
    def has_limit(self) -> bool:
        """Tell whether there is a limit for it."""
        return any(each is not None for each in self.judged)

    @property
    def reason(self) -> str:
        """Say why it could not be measured, where it could not."""
        missing = [each for each in (self.left, self.found) if each is not None and each.figure is None]
        return next((each.reason for each in missing if each.reason), "")


def pairs_of(history: StepHistory) -> tuple[Pair, ...]:
    """Put a step's figures side by side, in the order they were first given."""
    found, left = (None if each is None else each.outcome for each in (history.found, history.left))
    return paired(found, [measured.outcome for measured in history.adjusted], left)


def paired(found: StepOutcome | None, rounds: Sequence[StepOutcome], left: StepOutcome | None) -> tuple[Pair, ...]:
    """Put figures as found beside those as left; the rounds of adjusting fill in what only turning can show."""
    before = _sorted_by_quantity([] if found is None else [found], rounds, Phase.AS_FOUND)
    if left is None:
        return tuple(Pair(quantity, where, each, None) for (quantity, where), each in before.items())
    after = _sorted_by_quantity([left], rounds[::-1], Phase.AS_LEFT)
    pairs = [Pair(*key, before.get(key), after.get(key)) for key in dict.fromkeys((*before, *after))]
    return tuple(_without_strays(_joined(pairs)))


def _judged(finding: Finding | None) -> Judged | None:
    return None if finding is None else finding.judged


def _sorted_by_quantity(
    own: Iterable[StepOutcome], rounds: Iterable[StepOutcome], when: Phase
) -> dict[tuple[Quantity, str], Finding]:
    """Collect the findings of a time; those of the rounds only where the measurement itself has no figure.

    A figure of a round that does not say when it was taken is of the round's end.
    """
    figures = {_key(each): each for outcome in own for each in outcome.findings}
    for outcome in rounds:
        for each in outcome.findings:
            if (each.when or Phase.AS_LEFT) is not when:
                continue
            known = figures.get(_key(each))
            if known is None or (known.figure is None and known.judged is None):
                figures[_key(each)] = each
    return figures


def _key(finding: Finding) -> tuple[Quantity, str]:
    return finding.quantity, finding.where


def _joined(pairs: list[Pair]) -> list[Pair]:
    """Join a figure that could not be measured, and so has no place of its own, with the one of its name that could."""
    joined: list[Pair] = []
    for pair in pairs:
        nameless = pair.where == "" and all(each is None or each.figure is None for each in (pair.found, pair.left))
        same = [each for each in pairs if each.quantity == pair.quantity and each.where]
        if not (nameless and same):
            first = next((each for each in pairs if each.quantity == pair.quantity and each.where == ""), None)
            joined.append(_filled(pair, first) if first is not None and pair.where else pair)
    return joined


def _filled(pair: Pair, nameless: Pair) -> Pair:
    if any(each is not None and each.figure is not None for each in (nameless.found, nameless.left)):
        return pair
    return replace(pair, found=pair.found or nameless.found, left=pair.left or nameless.left)


def _without_strays(pairs: list[Pair]) -> list[Pair]:
    """Leave out figures that only mean something beside their like, where such a pair is there."""
    whole = {pair.quantity for pair in pairs if pair.found and pair.left and pair.quantity.only_beside_its_like}
    return [pair for pair in pairs if pair.quantity not in whole or (pair.found and pair.left)]
