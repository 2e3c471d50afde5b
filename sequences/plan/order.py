"""The alignment plan: what is measured and turned, in an order in which no step undoes an earlier one.

Last oscillator and last IF first, antenna last; the warm-up before everything.
"""

from collections.abc import Collection
from dataclasses import dataclass
from graphlib import TopologicalSorter

from sequences.plan.content import Step


@dataclass(frozen=True, slots=True)
class Plan:
    """The steps of one receiver, in order."""

    receiver_id: str
    steps: tuple[Step, ...]

    def step(self, step_id: str) -> Step:
        """Give one step by its id.

        Raises:
            KeyError: the plan has no such step.
        """
        return {step.id: step for step in self.steps}[step_id]

    def waits_for(self, step_id: str, within_limits: Collection[str]) -> tuple[Step, ...]:
        """List the steps that must be within limits before this one means anything, and are not."""
        return tuple(self.step(other) for other in self.step(step_id).depends_on if other not in within_limits)


def plan_of(receiver_id: str, steps: list[Step]) -> Plan:
    """Put the steps of a receiver in order."""
    return Plan(receiver_id, _in_order(_without_missing(steps)))


def _without_missing(steps: list[Step]) -> list[Step]:
    """Drop dependencies on steps this receiver does not have."""
    present = {step.id for step in steps}
    return [step.depending_on(other for other in step.depends_on if other in present) for step in steps]


def _in_order(steps: list[Step]) -> tuple[Step, ...]:
    """Order by dependency; among those that could come next, the one nearest the detector comes first."""
    by_id = {step.id: step for step in steps}
    place = {step.id: (step.places_from_detector, number) for number, step in enumerate(steps)}
    sorter = TopologicalSorter({step.id: step.depends_on for step in steps})
    sorter.prepare()
    ready: list[str] = []
    ordered: list[Step] = []
    while sorter.is_active():
        ready += sorter.get_ready()
        ready.sort(key=place.__getitem__)
        ordered.append(by_id[ready.pop(0)])
        sorter.done(ordered[-1].id)
    return tuple(ordered)
