"""The slugs of a can, set together; and what that came to, in findings and in words."""

from collections.abc import Generator
from typing import Any

from sequences.alignment.outcome import Finding, Task
from sequences.engine.requests import Request
from sequences.errors import SequenceError
from sequences.numerics.adjusters.two_slugs import dip_of
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Signs, judge_at_most
from sequences.numerics.wording import say_db
from sequences.plan.content import Step
from sequences.procedures.adjusting.circuit_findings import (
    LEFT,
    SIGNS_OF_A_PART,
    peaked_advice,
    peaked_findings,
    signs_of,
    stuck_advice,
    suspect_finding,
)
from sequences.procedures.adjusting.one_adjuster import LiveLevel, Peaked, ReadLevel, peak_adjuster
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.adjusting.two_adjusters import PairSet, level_left, set_pair
from sequences.quantities import Phrase, Quantity, Sense

DIP = Quantity(
    "hump-dip",
    "dip between the humps",
    "dB",
    Sense.AT_MOST,
    "how far the response sinks between two humps",
    Phrase("sunk in the middle by {size}"),
)
COUPLING = Quantity(
    "coupling-kq",
    "coupling kQ",
    meaning="how strongly the two circuits of a can act on each other; at 1 they pass most with one hump",
)
PAIR = 2

SlugsSet = PairSet | tuple[str, Peaked]
"""What became of a can's slugs: of both, or of the only one that may be turned."""


def set_slugs(
    step: Step, read: ReadLevel, hand: Hand, live: LiveLevel | None = None
) -> Generator[Request, Any, SlugsSet]:
    """Set a can's slugs; those set in the factory are not turned.

    Two are set by counted turns even where the task is live, for each pulls on the other's peak; one alone is peaked
    live where `live` says how.

    Raises:
        SequenceError: none may be turned, or more than two.
    """
    free = [adjuster for adjuster in step.adjusters if not adjuster.measure_only]
    if len(free) == 1:
        return free[0].name, (yield from peak_adjuster(free[0], read, hand, live))
    if len(free) != PAIR:
        raise SequenceError(f"{step.title}: one slug or two can be set, and {len(free)} may be turned.")
    return (yield from set_pair((free[0], free[1]), read, hand))


def slugs_findings(task: Task, slugs: SlugsSet, limit_db: float) -> tuple[Finding, ...]:
    """Judge what is left to be gained, and how far over-coupled the can turned out to be."""
    name = task.step.subject.removeprefix("filter.")
    if isinstance(slugs, tuple):
        return peaked_findings(slugs[0], slugs[1], limit_db)
    if slugs.stuck is not None:
        which, how = slugs.stuck
        return (suspect_finding(name, limit_db, signs_of(how), stuck_advice(which, how)),)
    if slugs.doubt is not None:
        return (_unsettled(name, slugs, limit_db),)
    left = level_left(slugs)
    assert left is not None  # noqa: S101 - it is neither stuck nor doubted
    judged = judge_at_most(f"What {name} can still gain", left, limit_db, say_db)
    return Finding(LEFT, name, left, judged), *coupling_findings(task, slugs, limit_db)


def _unsettled(name: str, slugs: PairSet, limit_db: float) -> Finding:
    assert slugs.doubt is not None  # noqa: S101 - looked at by the caller
    if slugs.doubt.name in SIGNS_OF_A_PART:
        return suspect_finding(name, limit_db, Signs(never_peaks=True), slugs.doubt.text)
    return Finding(LEFT, name, None, reason=slugs.doubt.text)


def coupling_findings(
    task: Task, slugs: PairSet, limit_db: float, swept: Estimate | None = None
) -> tuple[Finding, ...]:
    """Give the coupling and the dip it makes; a dip where the makers meant none points at the windings.

    Args:
        task: the can's.
        slugs: what the slugs told while they were set.
        limit_db: the most the dip may be.
        swept: the coupling as a sweep of the can alone shows it once the slugs are set; the better known one counts.
    """
    name = task.step.subject.removeprefix("filter.")
    if slugs.settled is None:
        return ()
    coupling = slugs.settled.coupling
    if swept is not None and swept.sigma < coupling.sigma:
        coupling = Estimate(float(swept.value), float(swept.sigma))
    dip = dip_of(coupling)
    meant = task.receiver.filters[name].coupling == "over-coupled"
    said, signs = f"The dip between the humps of {name}", Signs(nothing_to_turn=True)
    judged = None if meant else judge_at_most(said, dip, limit_db, say_db, signs=signs)
    return Finding(COUPLING, name, coupling), Finding(DIP, name, dip, judged)


def slugs_advice(slugs: SlugsSet) -> tuple[str, ...]:
    """Say what became of the slugs, and what to do where they failed."""
    if isinstance(slugs, tuple):
        return (peaked_advice(*slugs),)
    if slugs.stuck is not None:
        which, how = slugs.stuck
        return stuck_advice(which, how), "The other slug stands on the best there is with this one as it is."
    if slugs.doubt is not None:
        return (slugs.doubt.text,)
    assert slugs.settled is not None  # noqa: S101 - one of the three stands
    return (slugs.settled.text,)
