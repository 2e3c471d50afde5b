"""The errors of a dial over its scale, as found and as left with their limit: what paper and page both draw."""

from collections.abc import Iterable
from dataclasses import dataclass

from sequences.plan.content import Shown, Step
from server.report.pairs import Pair


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
    limit_khz = step.limits[0].most if step.limits else None
    errors = [pair for pair in pairs if step.limits and pair.quantity == step.limits[0].quantity]
    found, left = _series(errors, left=False), _series(errors, left=True)
    if step.shown is not Shown.OVER_THE_DIAL or limit_khz is None or (found is None and left is None):
        return None
    return DialScale(limit_khz, found, left)


def _series(errors: list[Pair], *, left: bool) -> DialSeries | None:
    points = []
    for pair in errors:
        finding = pair.left if left else pair.found
        if finding is not None and finding.figure is not None and finding.mark is not None:
            points.append((finding.mark, finding.figure.value, finding.figure.sigma))
    return DialSeries(tuple(sorted(points))) if points else None
