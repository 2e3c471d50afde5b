"""Selectivity's figures: the widths at two depths, the shape factor, and what source and detector allowed."""

import math
from dataclasses import dataclass

from sequences.alignment.outcome import Finding, Task
from sequences.numerics.figures import Estimate
from sequences.numerics.levels.skirt_width import WidthAtDepth
from sequences.numerics.verdicts.decision_rule import Standing
from sequences.numerics.verdicts.verdict import Signs, judge_at_most
from sequences.numerics.wording import Wording, say_db, say_hz
from sequences.quantities import Phrase, Quantity, Sense

SHALLOW_DB, DEEP_DB = 6.0, 60.0
"""Passband and skirts. Source: ITU-R SM.332, selectivity of receivers: the passband at 6 dB, and the ratio of the
width at 60 dB to it (from memory)."""

SHALLOW = Quantity(
    "selectivity-6db",
    "6 dB width from the antenna",
    "Hz",
    meaning="the width between the two frequencies that need twice the voltage for the same output",
)
DEEP = Quantity(
    "selectivity-60db",
    "60 dB width from the antenna",
    "Hz",
    meaning="the width between the two frequencies that need a thousand times the voltage for the same output",
)
DEEP_BOUND = Quantity(
    "selectivity-60db-bound",
    "60 dB width from the antenna, at least",
    "Hz",
    meaning="the width that the receiver still hears with the source as strong as it may be",
)
SHAPE = Quantity(
    "shape-factor",
    "shape factor, 60 dB to 6 dB",
    "",
    Sense.AT_MOST,
    "how many times wider the receiver is at 60 dB than at 6 dB: the nearer to 1, the better",
    Phrase("with a shape factor of {size}", place=" at {where}"),
)
SHAPE_BOUND = Quantity(
    "shape-factor-bound",
    "shape factor, 60 dB to 6 dB, at least",
    "",
    Sense.AT_MOST,
    "how many times wider the receiver is at 60 dB than at 6 dB at least, where 60 dB could not be reached",
    Phrase("with a shape factor of {size} or more", place=" at {where}"),
)
RANGE = Quantity(
    "selectivity-range",
    "range of source and detector",
    "dB",
    meaning="how much stronger the source could be made than the weakest signal that the meter tells well",
)
QUANTITIES = (SHALLOW, DEEP, DEEP_BOUND, SHAPE, SHAPE_BOUND, RANGE)

say_ratio = Wording("{:.3g}".format, ((1.0, ""),))


@dataclass(frozen=True, slots=True)
class Selectivity:
    """What one look came to. `deep` is None where 60 dB could not be reached: `heard_hz` is then heard at least."""

    shallow: WidthAtDepth
    deep: WidthAtDepth | None
    heard_hz: float
    range_db: float
    why_not: str = ""


def findings_of(task: Task, where: str, found: Selectivity) -> tuple[Finding, ...]:
    """Give the figures of one look, the shape factor judged."""
    shallow = Finding(SHALLOW, where, found.shallow.width_hz)
    reach = Finding(RANGE, where, Estimate(found.range_db, 0.0))
    if found.deep is None:
        return (shallow, *_bounds(task, where, found), reach)
    shape = shape_factor(found.shallow.width_hz, found.deep.width_hz)
    name = f"The shape factor at {where}"
    judged = judge_at_most(name, shape, task.step.limits[0].most, say_ratio, signs=Signs(nothing_to_turn=True))
    deep = Finding(DEEP, where, found.deep.width_hz)
    return (shallow, deep, Finding(SHAPE, where, shape, judged), reach)


def shape_factor(shallow_hz: Estimate, deep_hz: Estimate) -> Estimate:
    """Divide the 60 dB width by the 6 dB width."""
    ratio = deep_hz.value / shallow_hz.value
    return Estimate(ratio, ratio * math.hypot(shallow_hz.sigma / shallow_hz.value, deep_hz.sigma / deep_hz.value))


def _bounds(task: Task, where: str, found: Selectivity) -> tuple[Finding, ...]:
    """Give what the widths are at least. That is enough to say that a limit is missed, never that it is met."""
    most = task.step.limits[0].most
    shape = shape_factor(found.shallow.width_hz, Estimate(found.heard_hz, 0.0))
    judged = judge_at_most(
        f"The shape factor, at least, at {where}", shape, most, say_ratio, signs=Signs(nothing_to_turn=True)
    )
    bound = Finding(DEEP_BOUND, where, Estimate(found.heard_hz, 0.0))
    if judged.standing is Standing.BEYOND:
        return bound, Finding(SHAPE_BOUND, where, shape, judged)
    reason = (
        f"60 dB could not be reached: {found.why_not} Source and detector allow {say_db(found.range_db)} here. The "
        f"receiver is at least {say_hz(found.heard_hz)} wide at 60 dB, so that the shape factor is at least "
        f"{say_ratio(shape.value)}. Whether it meets the limit of {say_ratio(most)} cannot be told."
    )
    return bound, Finding(SHAPE, where, None, reason=reason)
