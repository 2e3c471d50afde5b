"""What a step came to, as the API gives it: its figures side by side, a dial's errors, a crystal's bands."""

from collections.abc import Sequence

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.plan.content import Shown, Step
from sequences.quantities import Quantity
from server.api.plan_views import Plain
from server.plain import Json, to_plain
from server.report.by_place import ByPlace, places_of
from server.report.dial_scale import DialSeries, dial_scale
from server.report.limits import row_scale, say_figure, say_limit
from server.report.pairs import Pair, paired


def measured_view(step: Step, outcomes: Sequence[StepOutcome]) -> Plain:
    """Give each figure as found beside the same as left, and a dial's errors by mark, a crystal's levels by band."""
    pairs = _pairs(outcomes)
    return {
        "figures": [
            {"name": pair.name, "where": pair.where, **_quantity_view(pair.quantity), **_pair_view(pair)}
            for pair in pairs
        ],
        "dial": _dial_view(step, pairs),
        "bands": _bands_view(places_of(pairs)) if step.shown is Shown.BY_PLACE and pairs else None,
    }


def _quantity_view(quantity: Quantity) -> Plain:
    return {"quantity": quantity.key, "sense": to_plain(quantity.sense), "meaning": quantity.meaning}


def finding_view(finding: Finding) -> Plain:
    """Give one figure with its limit and verdict; `text` and `limit_text` are both ready to be shown."""
    return _finding_view(finding, Pair(finding.quantity, finding.where, finding, None))


def _finding_view(finding: Finding, row: Pair) -> Plain:
    """Give one figure of a row, whose figures and limit are told in one unit."""
    judged, scale = finding.judged, row_scale(row)
    return {
        **_quantity_view(finding.quantity),
        "text": say_figure(row, finding, scale),
        "limit_text": None if judged is None else say_limit(row, scale),
        "mark_khz": finding.mark,
        "name": finding.name,
        "where": finding.where,
        "when": None if finding.when is None else finding.when.value,
        "unit": finding.unit,
        "value": None if finding.figure is None else to_plain(finding.figure.value),
        "sigma": None if finding.figure is None else to_plain(finding.figure.sigma),
        "limit": None if judged is None else to_plain(judged.limit),
        "standing": None if judged is None else judged.standing.value,
        "verdict": None if judged is None else judged.verdict.value,
        "conformance": None if judged is None or judged.conformance is None else to_plain(judged.conformance),
        "times_readings": None if judged is None else judged.repeats,
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


def _bands_view(found: ByPlace) -> Plain:
    """Give each place's figures: the last quantity is the one with a limit, the first what it was worked out from."""
    limited = found.limited
    judged = None if limited is None else next(each for each in limited.judged if each is not None)
    told, judged_quantity = found.quantities[0], found.quantities[-1]
    return {
        "against": judged_quantity.name,
        "limit": None if limited is None else say_limit(limited, row_scale(limited)),
        "limit_db": None if judged is None else to_plain(judged.limit),
        "rows": [
            {
                "band": place.where,
                "volts": _pair_view(place.get(told)),
                "activity": _pair_view(place.get(judged_quantity)),
            }
            for place in found.places
        ],
    }


def _pair_view(pair: Pair | None) -> Plain:
    found, left = (None, None) if pair is None else (pair.found, pair.left)
    return {
        "found": None if pair is None or found is None else _finding_view(found, pair),
        "left": None if pair is None or left is None else _finding_view(left, pair),
    }
