"""Receivers and the steps of their plans, as the API shows them."""

from sequences.plan.content import Step, Way
from sequences.plan.order import Plan, alignment_plan
from sequences.receiver.hookups import Hookup, cautions_for
from sequences.receiver.model import Receiver
from server.plain import Json, to_plain

Plain = dict[str, Json]
"""A JSON object."""

STEP_FIELDS = ("id", "kind", "title", "subject", "nominal_khz", "places_from_detector", "depends_on", "adjusters")


def receiver_view(receiver: Receiver) -> Plain:
    """Give a receiver as one line of the list, with the cautions that hold before any lead is connected."""
    return {
        "id": receiver.id,
        "name": receiver.name,
        "supply": receiver.supply.kind,
        "cautions": list(cautions_for(receiver, Hookup())),
        "steps": len(alignment_plan(receiver).steps),
    }


def plan_view(receiver: Receiver, plan: Plan) -> Plain:
    """Give every step of a receiver, in order."""
    return {
        "receiver": {"id": receiver.id, "name": receiver.name},
        "steps": [step_view(step) for step in plan.steps],
    }


def step_view(step: Step) -> Plain:
    """Give one step: what is measured, in which ways, against which limits, and what is turned."""
    return {
        **{name: to_plain(getattr(step, name)) for name in STEP_FIELDS},
        "limits": [{**to_plain(limit), "sentence": limit.sentence()} for limit in step.limits],
        "good": step.good,
        "ways": [_way_view(way) for way in step.ways],
    }


def _way_view(way: Way) -> Plain:
    plain: Plain = to_plain(way)
    return plain
