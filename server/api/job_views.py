"""A job as the API shows it: what is said of it, and every step of its plan with how it stands. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass

from sequences.alignment.advice import no_way, order_of, to_be_told, ways_at_hand
from sequences.alignment.drift import drift_warnings
from sequences.alignment.outcome import Phase, StepOutcome
from sequences.alignment.progress import Progress, StepRecord, next_step, undone_by
from sequences.plan.content import Step
from sequences.plan.order import Plan
from sequences.receiver.model import Receiver
from server.api.measured_views import finding_view, measured_view
from server.api.plan_views import Plain, not_planned_view, spurs_view, step_view
from server.plain import Json, to_plain
from server.records.database import Row

LEFT_OUT = frozenset({"uid", "receiver_file", "notes", "answers", "runs", "remarks", "photos"})
"""Of the header: what is long, and what is shown by step."""

RUN_FIELDS = ("id", "phase", "way", "started_utc", "ending")
REMARK_FIELDS = ("id", "at_utc", "text")
PHOTO_FIELDS = ("id", "at_utc", "name", "media_type")


@dataclass(frozen=True, slots=True)
class JobState:
    """A job as it is in the record, and what its steps may be done with. `now_s`: seconds since the epoch."""

    job: Row
    receiver: Receiver
    plan: Plan
    progress: Progress
    roles: frozenset[str]
    now_s: float


def job_view(state: JobState) -> Plain:
    """Give a job with all its steps."""
    coming = next_step(state.plan, state.progress)
    return {
        **{name: value for name, value in state.job.items() if name not in LEFT_OUT},
        "next_step": None if coming is None else coming.id,
        "remarks": _of_step(state.job["remarks"], None, REMARK_FIELDS),
        "photos": _of_step(state.job["photos"], None, PHOTO_FIELDS),
        "steps": [{**step_view(step), "state": _step_state(state, step)} for step in state.plan.steps],
        "not_planned": not_planned_view(state.receiver, state.plan),
        "spurs": spurs_view(state.receiver),
    }


def _step_state(state: JobState, step: Step) -> Plain:
    current = state.progress.current
    on = current is not None and current.step_id == step.id
    record = current if on else state.progress.record(step.id)
    refused, warnings = may_begin(state, step)
    view = _record_view(record, step, on=on)
    return {
        "on": on,
        **view,
        "advice": list(dict.fromkeys((*view["advice"], *to_be_told(state.plan, state.progress, step.id)))),
        "refused": list(refused),
        "waits_for": list(_waits_for(state, step)),
        "warnings": list(warnings),
        "undone_by": [other.id for other in undone_by(state.plan, state.progress, step.id)],
        "runs": _of_step(state.job["runs"], step.id, RUN_FIELDS),
        "remarks": _of_step(state.job["remarks"], step.id, REMARK_FIELDS),
        "photos": _of_step(state.job["photos"], step.id, PHOTO_FIELDS),
    }


def may_begin(state: JobState, step: Step) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Say why a step cannot come now, and what to beware of where it can."""
    current = state.progress.current
    if current is not None and current.step_id != step.id:
        return (other_is_on(state.plan, current),), ()
    order = order_of(state.plan, state.progress, step.id)
    missing = () if ways_at_hand(step, state.roles) else (no_way(step, state.roles),)
    refused = (*(order.reasons if order.refused else ()), *missing)
    warnings = () if order.refused else order.reasons
    return refused, (*warnings, *drift_warnings(state.plan, state.progress, step.id, state.now_s))


def _waits_for(state: JobState, step: Step) -> tuple[str, ...]:
    """Name the steps that must come first; where there are any, the first sentence of why not says so."""
    on = state.progress.current
    return () if on is not None else order_of(state.plan, state.progress, step.id).blocked_by


def other_is_on(plan: Plan, current: StepRecord) -> str:
    """Say that another step must be ended first."""
    return f"The step '{plan.step(current.step_id).title}' is not finished; go on with it, or leave it, first."


def _record_view(record: StepRecord | None, step: Step, *, on: bool) -> Plain:
    outcomes = [] if record is None else [each.outcome for each in record.measured]
    judged = None if record is None else record.judged
    lasting = _since_adjusting(outcomes)
    return {
        "ending": None if record is None or on else record.ending.value,
        "verdict": None if judged is None else to_plain(judged.verdict),
        "way": None if record is None else to_plain(record.way),
        "reason": None if record is None else record.reason,
        "as_found": _findings(outcomes, Phase.AS_FOUND),
        "adjusted": _findings(outcomes, Phase.ADJUST),
        "as_left": _findings(outcomes, Phase.AS_LEFT),
        **measured_view(step, outcomes),
        "turned": _turned(outcomes),
        "advice": list(dict.fromkeys(sentence for one in lasting for sentence in one.advice)),
        "doubts": list(dict.fromkeys(sentence for one in lasting for sentence in one.doubts)),
    }


def _since_adjusting(outcomes: list[StepOutcome]) -> list[StepOutcome]:
    """Give the outcomes that still hold: what was found before the adjusters were turned no longer does."""
    rounds = [place for place, one in enumerate(outcomes) if one.phase is Phase.ADJUST]
    return outcomes[rounds[-1] :] if rounds else outcomes[-1:]


def _findings(outcomes: list[StepOutcome], phase: Phase) -> list[Json]:
    latest = next((one for one in reversed(outcomes) if one.phase is phase), None)
    return [] if latest is None else [finding_view(finding) for finding in latest.findings]


def _turned(outcomes: list[StepOutcome]) -> list[Json]:
    """Sum the turns of every round by adjuster; null where one was turned by the meter and nobody counted."""
    turns: dict[str, float | None] = {}
    for each in (turned for one in outcomes for turned in one.turned):
        before = turns.get(each.adjuster, 0.0)
        turns[each.adjuster] = None if before is None or each.turns is None else before + each.turns
    return [{"adjuster": adjuster, "turns": to_plain(turned)} for adjuster, turned in turns.items()]


def _of_step(rows: Iterable[Row], step_id: str | None, names: tuple[str, ...]) -> list[Json]:
    return [{name: row[name] for name in names} for row in rows if row["step_id"] == step_id]
