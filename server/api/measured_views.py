"""What a step came to, as the API gives it: its figures side by side, a dial's errors, a crystal's bands."""

from collections.abc import Sequence

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.plan.content import Step, StepKind
from server.api.plan_views import Plain
from server.plain import Json, to_plain
from server.report.activity_bands import activity_bands, against_name
from server.report.dial_scale import DialSeries, dial_scale
from server.report.limits import row_scale, say_limit
from server.report.pairs import Pair, paired


def measured_view(step: Step, outcomes: Sequence[StepOutcome]) -> Plain:
    """Give each figure as found beside the same as left, and a dial's errors by mark, a crystal's levels by band."""
    kind, pairs = step.kind, _pairs(outcomes)
    return {
        "figures": [{"name": pair.name, "where": pair.where, **_pair_view(pair)} for pair in pairs],
        "dial": _dial_view(step, pairs) if kind is StepKind.DIAL else None,
        "bands": _bands_view(pairs) if kind is StepKind.ACTIVITY and pairs else None,
    }


def finding_view(finding: Finding) -> Plain:
    """Give one figure with its limit and verdict."""
    judged = finding.judged
    return {
        "name": finding.name,
        "where": finding.where,
        "when": None if finding.when is None else finding.when.value,
        "unit": finding.unit,
        "value": None if finding.figure is None else to_plain(finding.figure.value),
        "sigma": None if finding.figure is None else to_plain(finding.figure.sigma),
        "limit": None if judged is None else to_plain(judged.limit),
        "standing": None if judged is None else judged.standing.value,
        "verdict": None if judged is None else judged.verdict.value,
        "sentence": None if judged is None else judged.text,
        "reason": finding.reason,
    }


def _pairs(outcomes: Sequence[StepOutcome]) -> tuple[Pair, ...]:
    """Put the figures of a record's first measurement beside those of its last."""
    rounds = [one for one in outcomes if one.phase is Phase.ADJUST]
    found = next((one for one in outcomes if one.phase is not Phase.ADJUST), None)
    left = outcomes[-1] if outcomes and outcomes[-1] is not found else None
    return paired(found, rounds, left)


def _dial_view(step: Step, pairs: Sequence[Pair]) -> Plain | None:
    scale = dial_scale(step, pairs)
    if scale is None:
        return None
    return {"limit_khz": scale.limit_khz, "found": _series_view(scale.found), "left": _series_view(scale.left)}


def _series_view(series: DialSeries | None) -> list[Json]:
    points = () if series is None else series.points
    return [{"mark_khz": mark, "error_khz": error, "sigma_khz": to_plain(sigma)} for mark, error, sigma in points]


def _bands_view(pairs: Sequence[Pair]) -> Plain:
    bands = activity_bands(pairs)
    limited = next((each.activity for each in bands if each.activity is not None and each.activity.has_limit), None)
    judged = None if limited is None else next(each for each in limited.judged if each is not None)
    return {
        "against": against_name(bands),
        "limit": None if limited is None else say_limit(limited, row_scale(limited)),
        "limit_db": None if judged is None else to_plain(judged.limit),
        "rows": [
            {"band": each.band, "volts": _pair_view(each.volts), "activity": _pair_view(each.activity)}
            for each in bands
        ],
    }


def _pair_view(pair: Pair | None) -> Plain:
    found, left = (None, None) if pair is None else (pair.found, pair.left)
    return {
        "found": None if found is None else finding_view(found),
        "left": None if left is None else finding_view(left),
    }
