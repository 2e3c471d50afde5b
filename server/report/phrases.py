"""A step's gravest figure as the end of a sentence: `335 Hz low`, `off its dial by up to 10.1 kHz`."""

from collections.abc import Iterable
from dataclasses import dataclass

from sequences.alignment.outcome import Finding
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Judged, Standing, Verdict
from sequences.quantities import Quantity, Sense
from server.report.pairs import Pair
from server.report.quantities import MINUS, is_sure, say_in_words, say_size
from server.report.words import listed


@dataclass(frozen=True, slots=True)
class Worst:
    """The figure that stands worst to its limit, among those of one time."""

    pair: Pair
    finding: Finding
    judged: Judged


def worst_of(pairs: Iterable[Pair], *, left: bool) -> Worst | None:
    """Find the figure that is furthest beyond its limit, or nearest to it."""
    candidates = []
    for pair in pairs:
        finding = pair.left if left else pair.found
        if finding is not None and finding.judged is not None:
            candidates.append(Worst(pair, finding, finding.judged))
    return max(candidates, key=_badness, default=None)


def how_many_beyond(pairs: Iterable[Pair], *, left: bool) -> int:
    """Count the figures that were surely beyond their limits."""
    findings = [pair.left if left else pair.found for pair in pairs]
    judged = [each.judged for each in findings if each is not None and each.judged is not None]
    return sum(each.standing is Standing.BEYOND for each in judged)


@dataclass(frozen=True, slots=True)
class Absent:
    """Where a figure is none at all, since what it tells of does not run."""

    quantity: Quantity
    places: tuple[str, ...]


def absent_at(pairs: Iterable[Pair], *, left: bool) -> Absent | None:
    """Give where something does not run at all; None where all of it does."""
    found = [pair for pair in pairs if pair.quantity.phrase.absent and _is_absent(pair.left if left else pair.found)]
    return Absent(found[0].quantity, tuple(pair.where for pair in found)) if found else None


def _is_absent(finding: Finding | None) -> bool:
    if finding is None or finding.judged is None:
        return False
    return finding.figure is None and finding.judged.figure is None


def in_words(worst: Worst, *, several: bool) -> str:
    """Say the figure so that `was` or `is now` may stand before it; with where it is, where there are several."""
    figure = worst.finding.figure
    if figure is None:
        return "not to be measured"
    return f"{_phrase(worst, figure)}{_where(worst) if several else ''}"


def _where(worst: Worst) -> str:
    where = worst.pair.where
    if not where:
        return ""
    return f", on {where}" if where.startswith("band ") else worst.pair.quantity.phrase.place.format(where=where)


def in_words_absent(absent: Absent) -> str:
    """Say that what a figure tells of does not run."""
    plural = "s" if len(absent.places) > 1 else ""
    return absent.quantity.phrase.absent.format(places=listed(absent.places), s=plural)


def limit_in_words(worst: Worst) -> str:
    """Say the limit after `where`."""
    judged, quantity = worst.judged, worst.pair.quantity
    size = say_in_words(judged.limit, quantity.unit)
    if quantity.sense is Sense.EITHER_WAY:
        return f"{size} either way is allowed"
    sign = MINUS if judged.limit < 0.0 else ""
    return f"{sign}{size} is the least allowed" if quantity.sense is Sense.AT_LEAST else f"{sign}{size} is allowed"


def _badness(worst: Worst) -> tuple[bool, float]:
    judged = worst.judged
    if judged.beyond is None:
        return True, float("inf")
    return judged.verdict is Verdict.SUSPECT, judged.beyond.value / max(abs(judged.limit), 1e-12)


def _phrase(worst: Worst, figure: Estimate) -> str:
    quantity = worst.pair.quantity
    phrase = quantity.phrase
    way = (phrase.above if figure.value > 0.0 else phrase.below) if is_sure(figure) else ""
    size = say_size(figure, quantity.unit)
    sign = MINUS if figure.value < 0.0 else ""
    return phrase.text.format(size=size, sign=sign, way=way or phrase.unsure, name=quantity.name, of=quantity.of)
