"""Receivers and the steps of their plans, as the API shows them."""

from sequences.kinds import alignment_plan
from sequences.plan.content import Limit, Step, Way
from sequences.plan.not_planned import not_planned
from sequences.plan.order import Plan
from sequences.plan.spur_tables import spur_tables
from sequences.receiver.cautions import general_dangers
from sequences.receiver.model import Receiver
from server.plain import Json, to_plain

Plain = dict[str, Json]
"""A JSON object."""

STEP_FIELDS = (
    "id",
    "kind",
    "title",
    "subject",
    "nominal_khz",
    "places_from_detector",
    "depends_on",
    "adjusters",
    "meaning",
    "shown",
)


def receiver_view(receiver: Receiver) -> Plain:
    """Give a receiver as one line of the list, with the cautions that hold before any lead is connected."""
    return {
        "id": receiver.id,
        "name": receiver.name,
        "supply": receiver.supply.kind,
        "cautions": list(general_dangers(receiver)),
        "steps": len(alignment_plan(receiver).steps),
    }


def plan_view(receiver: Receiver, plan: Plan) -> Plain:
    """Give every step of a receiver, in order."""
    return {
        "receiver": {"id": receiver.id, "name": receiver.name},
        "steps": [step_view(step) for step in plan.steps],
        "not_planned": not_planned_view(receiver, plan),
        "spurs": spurs_view(receiver),
    }


def spurs_view(receiver: Receiver) -> list[Json]:
    """Give the spur chart, as tables of text."""
    return [to_plain(table) for table in spur_tables(receiver)]


def not_planned_view(receiver: Receiver, plan: Plan) -> list[Json]:
    """Give what no step has, why, and what would bring it in."""
    return [to_plain(each) for each in not_planned(receiver, plan)]


def step_view(step: Step) -> Plain:
    """Give one step: what is measured, in which ways, against which limits, and what is turned."""
    return {
        **{name: to_plain(getattr(step, name)) for name in STEP_FIELDS},
        "limits": [_limit_view(limit) for limit in step.limits],
        "good": step.good,
        "ways": [_way_view(way) for way in step.ways],
    }


def _limit_view(limit: Limit) -> Plain:
    return {
        "figure": limit.figure,
        "most": limit.most,
        "unit": limit.unit,
        "quantity": limit.quantity.key,
        "sense": to_plain(limit.quantity.sense),
        "sentence": limit.sentence(),
    }


def _way_view(way: Way) -> Plain:
    plain: Plain = to_plain(way)
    return plain
