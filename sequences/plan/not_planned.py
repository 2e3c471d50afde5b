"""What of a receiver no step of its plan measures or turns, why, and what would bring it in."""

from collections.abc import Iterator
from dataclasses import dataclass

from sequences.plan.order import Plan
from sequences.plan.parts import is_adjusted
from sequences.plan.places import FREQUENCY_DRIFT, WARM_UP
from sequences.receiver.model import SIGNAL, Receiver
from sequences.receiver.points import level_point, source_before_filter, source_with_all_behind, swept_ifs


@dataclass(frozen=True, slots=True)
class NotPlanned:
    """One thing without a step. `remedy` says what in the receiver file would bring it in; empty where nothing can."""

    subject: str
    name: str
    reason: str
    remedy: str = ""


def not_planned(receiver: Receiver, plan: Plan) -> tuple[NotPlanned, ...]:
    """List each circuit, oscillator and adjuster of the file that no step of the plan has."""
    return (
        *_oscillators(receiver, plan),
        *_filters(receiver, plan),
        *_front_end(receiver, plan),
        *_rest(receiver, plan),
    )


def sentence(left_out: NotPlanned) -> str:
    """Say what has no step, why, and what would bring it in."""
    told = f"{left_out.name}: {left_out.reason}."
    return f"{told} To bring it in, {left_out.remedy}." if left_out.remedy else told


def _planned(plan: Plan) -> set[str]:
    """Name what has a step of its own; warm-up and drift only watch an oscillator."""
    return {step.subject for step in plan.steps if step.id not in {WARM_UP, FREQUENCY_DRIFT}}


NO_LEVEL = "no meter point reads the signal's level"
NAME_LEVEL = "add a meter point with reads = 'detector', or 'agc line' for AGC line or signal meter"


def _oscillators(receiver: Receiver, plan: Plan) -> Iterator[NotPlanned]:
    planned = _planned(plan)
    for key, entry in receiver.conversions.items():
        subject = f"conversion.{key}"
        if subject in planned:
            continue
        reason, remedy = "it can be neither counted nor heard", f"add a counter point with counts = '{subject}'"
        if entry.oscillator_kind == "tunable":
            reason, remedy = NO_LEVEL, NAME_LEVEL
            if level_point(receiver) is not None:
                reason, remedy = _no_source(receiver, entry.takes)
        yield NotPlanned(subject, entry.oscillator, reason, remedy)
    if receiver.beat_oscillator is not None and "beat_oscillator" not in planned:
        remedy = "add a counter point with counts = 'beat_oscillator' or 'audio'"
        yield NotPlanned("beat_oscillator", "beat oscillator", "it can be neither counted nor heard", remedy)


def _filters(receiver: Receiver, plan: Plan) -> Iterator[NotPlanned]:
    planned = _planned(plan)
    for name, entry in receiver.filters.items():
        if f"filter.{name}" in planned or f"if.{entry.intermediate}" in planned:
            continue
        reason, remedy = _why_no_step(receiver, name)
        yield NotPlanned(f"filter.{name}", name, reason, remedy)


def _why_no_step(receiver: Receiver, name: str) -> tuple[str, str]:
    entry = receiver.filters[name]
    if level_point(receiver) is None:
        return NO_LEVEL, NAME_LEVEL
    if not any(entry.intermediate in point.enters for point in receiver.source_points.values()):
        return _no_source(receiver, entry.intermediate)
    if source_before_filter(receiver, name) is None:
        needed = f"a source point that enters '{entry.intermediate}' before it, without after_filter = '{name}'"
        return "every source point stands behind it", f"add {needed}"
    if not is_adjusted(receiver, f"filter.{name}"):
        return "nothing that tunes it may be turned, and a narrower IF hides it from a sweep", ""
    if entry.intermediate not in swept_ifs(receiver):
        return "a narrower IF hides it from a sweep", "give it kind = 'double-tuned can' or 'single circuit'"
    return "no kind of step measures it", ""


def _no_source(receiver: Receiver, what: str) -> tuple[str, str]:
    named = "the signal" if what == SIGNAL else f"the {receiver.ifs[what].name}"
    return f"no source point lets {named} in", f"add a source point that enters '{what}'"


def _front_end(receiver: Receiver, plan: Plan) -> Iterator[NotPlanned]:
    if any(step.subject == "preselector" for step in plan.steps):
        return
    if source_with_all_behind(receiver, SIGNAL) is None:
        reason, remedy = _no_source(receiver, SIGNAL)
    else:
        reason = "no meter point sees it"
        probe = "reads = 'rf probe' and at = 'preselector'"
        remedy = f"add a meter point with {probe}, or one with reads = 'detector' or 'agc line'"
    yield NotPlanned("preselector", receiver.preselector.name, reason, remedy)


def _rest(receiver: Receiver, plan: Plan) -> Iterator[NotPlanned]:
    """List adjusters without a step, of things that have one or are told of already."""
    used = {adjuster.name for step in plan.steps for adjuster in step.adjusters}
    for name, entry in receiver.adjusters.items():
        if name in used:
            continue
        if entry.factory_only:
            yield NotPlanned(f"adjuster.{name}", name, "it was set in the factory and is not turned")
        else:
            yield NotPlanned(f"adjuster.{name}", name, f"what it moves, '{entry.moves}', has no step")
