"""What to say and to propose during an alignment: whether a step may come now, and what to do once it is measured."""

from dataclasses import dataclass

from sequences.alignment.look_first import look_first
from sequences.alignment.outcome import Finding, Phase, StepOutcome, Stuck
from sequences.alignment.progress import Choice, Ending, Progress, StepRecord, undone_by
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import Step, Way, WayName
from sequences.plan.order import Plan

MOST_ADJUSTMENTS = 2
MOST_REPEATED = 1
"""Rounds after which adjusting again is no longer proposed: what has not come right by then will not."""


@dataclass(frozen=True, slots=True)
class Order:
    """Whether a step may come now. Where `refused`, the reasons say why not; else they are warnings.

    `blocked_by` names the steps that must be put right first where it is refused.
    """

    refused: bool
    reasons: tuple[str, ...]
    blocked_by: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Decision:
    """What is proposed for a measured step, why, and what else may be chosen; the proposal is the first choice."""

    choices: tuple[Choice, ...]
    reason: str

    @property
    def proposal(self) -> Choice:
        """Give what is proposed."""
        return self.choices[0]


def order_of(plan: Plan, progress: Progress, step_id: str) -> Order:
    """Say whether a step may come now: never before a step it rests on has had its turn."""
    step = plan.step(step_id)
    waits_for = plan.waits_for(step_id, progress.within_limits())
    not_come = [other for other in waits_for if progress.record(other.id) is None]
    standards = [one for one in waits_for if one.id in step.told_against]
    blocking = tuple(other for other in waits_for if other in not_come or other in standards)
    stands = "waits for" if blocking else "rests on"
    reasons = [f"{step.title} {stands} {_listed(progress, blocking or waits_for)}."] if waits_for else []
    reasons += [
        f"{step.title} was measured before '{other.title}' was adjusted, so it is measured again."
        for other in undone_by(plan, progress, step_id)
    ]
    reasons += [_to_do_first(progress, other, step) for other in standards if other not in not_come]
    return Order(bool(blocking), tuple(reasons), tuple(other.id for other in blocking))


def _to_do_first(progress: Progress, standard: Step, step: Step) -> str:
    """Say what must be done about an oscillator before a step that is told against it."""
    record = progress.record(standard.id)
    why = "" if record is None else " ".join((*_stuck_sentences(progress, standard.id), *_said_of(record)))
    first = f"Put '{standard.title}' right first, then do '{step.title}': its figure is told against that oscillator."
    return f"{why} {first}".strip()


def _said_of(record: StepRecord) -> tuple[str, ...]:
    outcome = record.judged
    return () if outcome is None or outcome.verdict in {None, Verdict.LEAVE} else (because(outcome),)


def to_be_told(plan: Plan, progress: Progress, step_id: str) -> tuple[str, ...]:
    """Say what whoever reads how a step ended must know beside its figures.

    What is stuck, what was suspected while it was turned though its figures came right, what holds it up, and where to
    look first where a proof failed.
    """
    stuck = _stuck_sentences(progress, step_id) or _suspected_while_turning(progress, step_id)
    return (*stuck, *_held_up(plan, progress, step_id), *look_first(plan, progress, step_id))


def _suspected_while_turning(progress: Progress, step_id: str) -> tuple[str, ...]:
    """Give what pointed at a part in the last round of adjusting of a step that is within its limits all the same."""
    latest = progress.record(step_id)
    if latest is None or latest.ending is not Ending.GOOD:
        return ()
    measured = [each.outcome for one in progress.ended if one.step_id == step_id for each in one.measured]
    turned = next((one for one in reversed(measured) if one.phase is Phase.ADJUST), None)
    suspected = [] if turned is None else [one for one in turned.findings if _points_at_a_part(one)]
    return tuple(dict.fromkeys(one.reason or one.judged.text for one in suspected if one.judged is not None))


def _points_at_a_part(finding: Finding) -> bool:
    return finding.judged is not None and finding.judged.verdict is Verdict.SUSPECT


def _stuck_sentences(progress: Progress, step_id: str) -> tuple[str, ...]:
    """Name each adjuster of a step that could not be turned, and say what to do about it."""
    return tuple(
        f"The {each.adjuster} is seized: free it without force, or have its core or shaft mended."
        if each.how is Stuck.SEIZED
        else f"The {each.adjuster} stands at the end of its travel: it goes no further that way."
        for each in progress.stuck(step_id)
    )


def _held_up(plan: Plan, progress: Progress, step_id: str) -> tuple[str, ...]:
    """Say of a step left off its limits which blocked step would have moved it, and what blocks that one."""
    step, record = plan.step(step_id), progress.record(step_id)
    if record is None or record.ending in {Ending.GOOD, Ending.BLOCKED, Ending.UNMEASURED}:
        return ()
    sentences = []
    for other in plan.steps:
        blocked = progress.record(other.id)
        names = [adjuster.name for adjuster in other.adjusters if adjuster.name in step.moved_by]
        if blocked is not None and blocked.ending is Ending.BLOCKED and names:
            sentences.append(
                f"{step.title} is moved by {_together(names)}, which '{other.title}' sets; that could not be done. "
                f"{blocked.reason}"
            )
    return tuple(sentences)


def _listed(progress: Progress, steps: tuple[Step, ...]) -> str:
    """Name steps with what is wrong with them; those with the same fault together, or a late step's list is a wall."""
    titles: dict[Ending | None, list[str]] = {}
    for step in steps:
        record = progress.record(step.id)
        titles.setdefault(None if record is None else record.ending, []).append(f"'{step.title}'")
    return "; ".join(f"{_together(names)}, since {_state(ending, len(names))}" for ending, names in titles.items())


def _together(names: list[str]) -> str:
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last


def _state(ending: Ending | None, count: int) -> str:
    it_was, its, it_is = ("it was", "its", "it is") if count == 1 else ("they were", "their", "they are")
    said = {
        None: f"{its} turn has not come yet",
        Ending.OFF: f"{it_was} left outside {its} limits",
        Ending.SUSPECT: "a part is suspected there",
        Ending.UNJUDGED: f"{it_was} measured but not judged",
        Ending.UNMEASURED: f"{it_was} not measured",
        Ending.BLOCKED: f"{it_was} blocked by an earlier step",
        Ending.GOOD: f"{it_is} within {its} limits",
    }
    return said[ending]


def ways_at_hand(step: Step, roles: frozenset[str]) -> tuple[Way, ...]:
    """List the ways for which the bench has every instrument, the preferred one first."""
    return tuple(way for way in step.ways if roles_of(way) <= roles)


def roles_of(way: Way) -> frozenset[str]:
    """Name the instruments a way needs."""
    hookup = way.hookup
    leads = {"source": hookup.source_to, "meter": hookup.meter_to, "counter": hookup.counter_to}
    return frozenset(role for role, point in leads.items() if point is not None)


def no_way(step: Step, roles: frozenset[str]) -> str:
    """Say which instruments are missing for the preferred way."""
    missing = " and a ".join(sorted(roles_of(step.ways[0]) - roles))
    return f"{step.title} needs a {missing}, and the bench has none that answers."


def decide(step: Step, record: StepRecord) -> Decision:
    """Propose what to do with a step that has just been measured, by its verdict.

    Raises:
        ValueError: the step has not been measured.
    """
    last = record.last
    if last is None:
        raise ValueError(f"The step '{step.id}' has not been measured, so nothing can be decided.")
    if last.verdict is Verdict.LEAVE and all(finding.figure is not None for finding in last.findings):
        return Decision((Choice.LEAVE,), because(last))
    if last.verdict is Verdict.MEASURE_AGAIN:
        return _to_measure_again(step, record, because(last))
    if all(adjuster.measure_only for adjuster in step.adjusters):
        return Decision((Choice.LEAVE, Choice.AGAIN), _nothing_to_turn(step, last))
    outcome = record.judged
    if outcome is None:
        return _without_verdict(record, last)
    if outcome.verdict in {Verdict.TOUCH_UP, Verdict.ADJUST}:
        return _to_adjust(record, because(outcome))
    settled = outcome.verdict is Verdict.LEAVE and _is_all_known(record, last)
    also = () if settled else (Choice.ADJUST, Choice.AGAIN)
    return Decision((Choice.LEAVE, *also), because(outcome))


def _is_all_known(record: StepRecord, last: StepOutcome) -> bool:
    """Tell whether a run as left, or the adjusting before it, gave every figure: some show only while it is turned."""
    if last.phase is not Phase.AS_LEFT:
        return False
    known = {one.quantity for outcome in record.since_adjusting() for one in outcome.findings if one.figure is not None}
    return all(one.quantity in known for one in last.findings)


def _to_measure_again(step: Step, record: StepRecord, reason: str) -> Decision:
    """Propose to measure once more what is too close to call; turning is never proposed for it."""
    turn = () if all(adjuster.measure_only for adjuster in step.adjusters) else (Choice.ADJUST,)
    if record.repeated >= MOST_REPEATED:
        said = f"{reason} It was measured {record.repeated + 1} times and is still too close to call."
        return Decision((Choice.LEAVE, Choice.AGAIN, *turn), said)
    return Decision((Choice.AGAIN, Choice.LEAVE, *turn), reason)


def _nothing_to_turn(step: Step, outcome: StepOutcome) -> str:
    if step.adjusters:
        return f"{because(outcome)} What moves it was set in the factory and is not turned."
    return because(outcome)


def _to_adjust(record: StepRecord, reason: str) -> Decision:
    if record.adjustments >= MOST_ADJUSTMENTS:
        said = f"{reason} It was adjusted {record.adjustments} times already, so more turning is not proposed."
        return Decision((Choice.LEAVE, Choice.ADJUST, Choice.AGAIN), said)
    return Decision((Choice.ADJUST, Choice.LEAVE, Choice.AGAIN), reason)


def _without_verdict(record: StepRecord, last: StepOutcome) -> Decision:
    reasons = " ".join(dict.fromkeys(finding.reason for finding in last.findings if finding.reason))
    if record.way is WayName.STEP_AND_FIT and last.phase is Phase.AS_FOUND:
        return Decision((Choice.ADJUST, Choice.LEAVE, Choice.AGAIN), reasons or "It shows only by turning.")
    return Decision((Choice.LEAVE, Choice.ADJUST, Choice.AGAIN), reasons or "Nothing could be judged.")


def because(outcome: StepOutcome) -> str:
    """Give the sentences of the gravest findings, and what could not be measured at all."""
    verdict = outcome.verdict
    said = [one.judged.text for one in outcome.findings if one.judged is not None and one.judged.verdict is verdict]
    said += [_unmeasured(one) for one in outcome.findings if one.judged is None and one.figure is None and one.reason]
    return " ".join(dict.fromkeys(said)) or "No limit applies to what was measured."


def _unmeasured(finding: Finding) -> str:
    where = f" at {finding.where}" if finding.where else ""
    return f"{finding.name[0].upper()}{finding.name[1:]}{where} could not be measured: {finding.reason}"
