"""What turning the adjusters of tuned circuits came to, as findings with their verdicts, and in words."""

import math

from sequences.alignment.outcome import Finding, Phase, Stuck
from sequences.numerics.adjusters.nudging import NoPeak, OnPeak
from sequences.numerics.figures import DoubtName, Estimate
from sequences.numerics.responses.passband import PassbandFit
from sequences.numerics.verdicts.verdict import Signs, judge_at_most, suspect_without_figure
from sequences.numerics.wording import say_db, say_volts
from sequences.plan.content import Step
from sequences.procedures.adjusting.one_adjuster import NotPassed, Peaked, PeakedByMeter
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.quantities import Phrase, Quantity, Sense

MIDDLE = Quantity("centre", "centre", "Hz", meaning="where the middle of the response is")
WIDTH = Quantity(
    "width-3db",
    "3 dB width",
    "Hz",
    meaning="the width of the response between the two frequencies where half the power is left",
)
CENTRE = Quantity(
    "centre-error",
    "centre error",
    "% of the 3 dB width",
    Sense.EITHER_WAY,
    "how far that middle is from where it should be, as a share of the response's width",
    Phrase("off centre by {size}{way}", " upwards", " downwards"),
)
LEFT = Quantity(
    "level-left",
    "level still to be gained",
    "dB",
    Sense.AT_MOST,
    "how much stronger the signal would be with the circuit on its peak",
    Phrase("giving away {size}"),
)
GAINED = Quantity(
    "level-gained", "level gained", "dB", meaning="how much stronger the signal became", change="The signal"
)
LEVEL = Quantity(
    "source-level",
    "source level for the same output",
    "dBm",
    meaning="the input that gives the same output: less is better",
    only_beside_its_like=True,
)
QUANTITIES = (MIDDLE, WIDTH, CENTRE, LEFT, GAINED, LEVEL)
SIGNS_OF_A_PART = frozenset({DoubtName.NOT_BRACKETED, DoubtName.NO_RISE})
"""A peak out of reach, or none at all, points to a part; unsteady levels do not."""


def limit_of(step: Step, quantity: Quantity) -> float:
    """Give a step's limit for a quantity.

    Raises:
        KeyError: the step sets none.
    """
    return {limit.quantity: limit.most for limit in step.limits}[quantity]


def centre_error_percent(fit: PassbandFit, nominal: float) -> Estimate | None:
    """Give how far a response's centre is from a frequency in Hz, in per cent of its 3 dB width; None without either.

    The width's own uncertainty counts as well, in proportion to the error.
    """
    if fit.centre is None or fit.width_3db is None:
        return None
    width = fit.width_3db
    error = 100.0 * (fit.centre.value - nominal) / width.value
    return Estimate(error, math.hypot(100.0 * fit.centre.sigma, error * width.sigma) / width.value)


def sentence_start(name: str) -> str:
    """Write a name so that a sentence may begin with it."""
    return f"{name[0].upper()}{name[1:]}"


def level_finding(level: Estimate, held: HeldOutput, when: Phase, where: str = "") -> Finding:
    """Say what source level holds the output: less after alignment, by what was gained."""
    output = f"{where}{', ' if where else ''}{say_volts(held.level.volts)} at the meter"
    return Finding(LEVEL, output, Estimate(-level.value, level.sigma), when=when)


def gained_finding(found: Estimate, left: Estimate) -> Finding:
    """Say what was gained between two levels."""
    return Finding(GAINED, "", Estimate(left.value - found.value, math.hypot(left.sigma, found.sigma)))


def peaked_findings(name: str, peaked: Peaked, limit_db: float) -> tuple[Finding, ...]:
    """Judge what is left to be gained on an adjuster against the step's limit."""
    result = peaked.result
    if isinstance(result, NotPassed):
        return Finding(GAINED, name, result.gain_db), Finding(LEFT, name, None, reason=result.text)
    if isinstance(result, OnPeak | PeakedByMeter):
        judged = judge_at_most(f"What {name} can still gain", result.left_db, limit_db, say_db)
        return Finding(GAINED, name, result.gain_db), Finding(LEFT, name, result.left_db, judged)
    why = peaked_advice(name, peaked)
    if isinstance(result, NoPeak) and result.doubt.name not in SIGNS_OF_A_PART:
        return (Finding(LEFT, name, None, reason=why),)
    signs = Signs(never_peaks=True) if isinstance(result, NoPeak) else signs_of(result)
    return (suspect_finding(name, limit_db, signs, why),)


def signs_of(stuck: Stuck) -> Signs:
    """Give the sign of a bad part in an adjuster that is stuck."""
    return Signs(seized=stuck is Stuck.SEIZED, out_of_travel=stuck is Stuck.END_OF_TRAVEL)


def suspect_finding(name: str, limit_db: float, signs: Signs, reason: str) -> Finding:
    """Say that a part is to be suspected: no peak was reached, so that what is left cannot be told."""
    judged = suspect_without_figure(f"What {name} can still gain", limit_db, signs)
    return Finding(LEFT, name, None, judged, reason)


def peaked_advice(name: str, peaked: Peaked) -> str:
    """Say in one sentence what became of an adjuster, and what to do where it failed."""
    result = peaked.result
    if isinstance(result, OnPeak | PeakedByMeter | NotPassed):
        return f"{name}: {result.text}"
    return f"{name}: {result.doubt.text}" if isinstance(result, NoPeak) else stuck_advice(name, result)


def stuck_advice(name: str, stuck: Stuck) -> str:
    """Say what to do about an adjuster that is stuck."""
    if stuck is Stuck.SEIZED:
        return f"{name} cannot be turned either way: free it without force, or suspect a broken core or shaft."
    return (
        f"{name} is at the end of its travel and still short of its peak: suspect the fixed capacitor of its circuit "
        "before the coil."
    )
