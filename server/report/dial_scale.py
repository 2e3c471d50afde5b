"""The errors of a dial over its scale, as found and as left with their limit: what paper and page both draw."""

from collections.abc import Iterable
from dataclasses import dataclass

from sequences.plan.content import Step
from server.report.pairs import Pair

DIAL_ERROR = "dial error"


@dataclass(frozen=True, slots=True)
class DialSeries:
    """Dial errors of one time: marks in kHz with errors and their one sigma in kHz."""

    points: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True)
class DialScale:
    """Both times, None where nothing was measured then; the limit holds either way."""

    limit_khz: float
    found: DialSeries | None
    left: DialSeries | None


def dial_scale(step: Step, pairs: Iterable[Pair]) -> DialScale | None:
    """Sort a step's dial errors by mark; None where it has none, or no limit for them."""
    errors = [pair for pair in pairs if pair.name == DIAL_ERROR]
    found, left = _series(errors, left=False), _series(errors, left=True)
    limit_khz = next((each.most for each in step.limits if each.figure == DIAL_ERROR), None)
    if limit_khz is None or (found is None and left is None):
        return None
    return DialScale(limit_khz, found, left)


def _series(errors: list[Pair], *, left: bool) -> DialSeries | None:
    points = []
    for pair in errors:
        finding = pair.left if left else pair.found
        if finding is not None and finding.figure is not None:
            points.append((mark_khz(pair.where), finding.figure.value, finding.figure.sigma))
    return DialSeries(tuple(sorted(points))) if points else None


def mark_khz(where: str) -> float:
    """Read a dial mark out of its place: `300 kHz`, `band 7, 300 kHz`."""
    return float(where.removesuffix(" kHz").split()[-1])
