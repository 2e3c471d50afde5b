"""Where to look first when a receiver fails its proof: what stands before spoils what is measured behind it.

Input circuits that are wrong cost sensitivity too, and a weak valve leaves the gain control less to hold: so of all
that is suspected, what the signal meets first is named. Common practice, no source.
"""

from sequences.alignment.progress import Ending, Progress
from sequences.plan.content import Culprit
from sequences.plan.order import Plan

WORDS = {
    Culprit.INPUT: (
        "Look first at the circuits between antenna and first mixer: one that is open, damped or of a wrong value lets "
        "in what it should hold off."
    ),
    Culprit.VALVES: (
        "Look first at the valves from the antenna to the detector, the first mixer's before all: a weak one costs "
        "sensitivity."
    ),
    Culprit.FILTER: (
        "Look first at the IF filters: a circuit that is open, damped or of a wrong value broadens the skirts."
    ),
    Culprit.CONTROL: (
        "Look first at the AGC line: its switch, its capacitors and resistors, and the valves that it controls."
    ),
}


def culprit_of(plan: Plan, progress: Progress) -> Culprit | None:
    """Name what the steps of the proof point at together; None where none of them suspects a part."""
    suspected = {
        step.points_at
        for step in plan.steps
        if step.points_at is not None
        and (record := progress.record(step.id)) is not None
        and record.ending is Ending.SUSPECT
    }
    return next((culprit for culprit in Culprit if culprit in suspected), None)


def look_first(plan: Plan, progress: Progress, step_id: str) -> tuple[str, ...]:
    """Say where to look first, of a step of the proof in which a part is suspected."""
    step, record = plan.step(step_id), progress.record(step_id)
    if step.points_at is None or record is None or record.ending is not Ending.SUSPECT:
        return ()
    culprit = culprit_of(plan, progress)
    return () if culprit is None else (WORDS[culprit],)
