"""A step's gravest figure as the end of a sentence: `335 Hz low`, `off its dial by up to 10.1 kHz`."""

from collections.abc import Iterable
from dataclasses import dataclass

from sequences.alignment.outcome import Finding
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Judged, Standing, Verdict
from server.report.limits import EITHER_WAY, is_least
from server.report.pairs import Pair
from server.report.quantities import MINUS, is_sure, say_in_words, say_size
from server.report.words import ACTIVITY, listed


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


def stopped_at(pairs: Iterable[Pair], *, left: bool) -> tuple[str, ...]:
    """List where an oscillator does not run at all."""
    found = []
    for pair in pairs:
        finding = pair.left if left else pair.found
        if not pair.name.startswith(ACTIVITY) or finding is None or finding.judged is None:
            continue
        if finding.figure is None and finding.judged.figure is None:
            found.append(pair.where)
    return tuple(found)


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
    if where.startswith("band "):
        return f", on {where}"
    return f", on band {where}" if worst.pair.name.startswith(ACTIVITY) else f", at {where}"


def in_words_stopped(bands: tuple[str, ...]) -> str:
    """Say that crystals do not oscillate."""
    return f"dead on band{'s' if len(bands) > 1 else ''} {listed(bands)}, where the crystal did not oscillate"


def limit_in_words(worst: Worst) -> str:
    """Say the limit after `where`."""
    judged, unit = worst.judged, worst.pair.unit
    size = say_in_words(judged.limit, unit)
    if worst.pair.name in EITHER_WAY:
        return f"{size} either way is allowed"
    sign = MINUS if judged.limit < 0.0 else ""
    return f"{sign}{size} is the least allowed" if is_least(judged) else f"{size} is allowed"


def _badness(worst: Worst) -> tuple[bool, float]:
    judged = worst.judged
    if judged.beyond is None:
        return True, float("inf")
    return judged.verdict is Verdict.SUSPECT, judged.beyond.value / max(abs(judged.limit), 1e-12)


def _phrase(worst: Worst, figure: Estimate) -> str:
    name = worst.pair.name
    size = say_size(figure, worst.pair.unit)
    if name.startswith(ACTIVITY):
        band = name.removeprefix(ACTIVITY).strip()
        return f"{size} {'weaker' if figure.value < 0.0 else 'stronger'} than band {band}"
    if name not in PHRASES:
        return f"at {size} ({name})"
    phrase, high, low = PHRASES[name]
    way = (high if figure.value > 0.0 else low) if is_sure(figure) else ""
    return phrase.format(size=size, way=f" {way}" if way else "") + ("" if way or name not in BARE else " off")


PHRASES: dict[str, tuple[str, str, str]] = {
    "frequency error": ("{size}{way}", "high", "low"),
    "beat oscillator error": ("{size}{way}", "high", "low"),
    "dial error": ("off its dial by {size}", "", ""),
    "centre error": ("off centre by {size}{way}", "upwards", "downwards"),
    "width error": ("{size}{way}", "too wide", "too narrow"),
    "skew": ("lopsided by {size}", "", ""),
    "level still to be gained": ("giving away {size}", "", ""),
    "dip between the humps": ("sunk in the middle by {size}", "", ""),
    "upper hump over lower hump": ("uneven by {size} between its humps", "", ""),
    "knob pointer error": ("off at its knob by {size}{way}", "upwards", "downwards"),
    "drift": ("drifting by {size}", "", ""),
    "difference of the two ends": ("uneven by {size} between its two ends", "", ""),
}
"""How each figure is said, and what it is called when it is surely above nought and surely below."""

BARE = frozenset({"frequency error", "beat oscillator error", "width error"})
"""Figures that need a word of their own where their way is not sure."""
