"""A step's gravest figure as the end of a sentence: `335 Hz low`, `off its dial by up to 10.1 kHz`."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from sequences.alignment.outcome import Finding
from sequences.numerics.verdict import Judged, Standing, Verdict
from server.report.limits import EITHER_WAY, is_least
from server.report.pairs import Pair
from server.report.quantities import MINUS, say_in_words
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


def same_as(worst: Worst, pairs: Iterable[Pair], *, left: bool) -> Worst | None:
    """Find what became of figures of the same name: the worst of them at the other time."""
    return worst_of((pair for pair in pairs if pair.name == worst.pair.name), left=left)


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
    text = _phrase(worst, figure.value)
    where = f" ({worst.pair.where})" if several and worst.pair.where else ""
    return f"{text}{where}"


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


def _phrase(worst: Worst, value: float) -> str:
    name, unit = worst.pair.name, worst.pair.unit
    size = say_in_words(value, unit)
    if name.startswith(ACTIVITY):
        band = name.removeprefix(ACTIVITY).strip()
        return f"{size} {'weaker' if value < 0.0 else 'stronger'} than band {band}"
    say = PHRASES.get(name)
    return f"at {size} ({name})" if say is None else say(size, value > 0.0)


def _either(high: str, low: str) -> Callable[[str, bool], str]:
    return lambda size, is_high: f"{size} {high if is_high else low}"


PHRASES: dict[str, Callable[[str, bool], str]] = {
    "frequency error": _either("high", "low"),
    "beat oscillator error": _either("high", "low"),
    "dial error": lambda size, _: f"off its dial by up to {size}",
    "centre error": lambda size, high: f"off centre by {size}, too {'high' if high else 'low'}",
    "width error": lambda size, wide: f"{size} too {'wide' if wide else 'narrow'}",
    "skew": lambda size, _: f"lopsided by {size}",
    "level still to be gained": lambda size, _: f"giving away {size}",
    "dip between the humps": lambda size, _: f"sunk in the middle by {size}",
    "upper hump over lower hump": lambda size, _: f"uneven by {size} between its humps",
    "knob pointer error": lambda size, high: f"out at its knob, which peaked {size} too {'high' if high else 'low'}",
    "drift": lambda size, _: f"drifting by {size}",
    "difference of the two ends": lambda size, _: f"uneven by {size} between its two ends",
}
"""How each figure is said, by its size and whether it is positive."""
