"""A passband's figures against what they should be: centre, width and skew, of the whole and of a stage alone."""

import math
from dataclasses import dataclass, replace

from sequences.alignment.outcome import Finding, Phase
from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import PassbandFit
from sequences.numerics.verdicts.verdict import SURE_SIGMAS, Judged, Signs, judge_at_most, judge_error
from sequences.numerics.wording import say_db, say_hz, say_percent
from sequences.plan.content import Step
from sequences.procedures.adjusting.circuit_findings import (
    CENTRE,
    MIDDLE,
    WIDTH,
    centre_error_percent,
    limit_of,
)
from sequences.procedures.adjusting.step_notes import StepNotes
from sequences.procedures.sweeps.place import HZ_PER_KHZ
from sequences.procedures.sweeps.stage_sweep import NO_PASSBAND_HERE, is_beyond_sweep
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.targets import ScanTarget

WIDTH_ERROR = Quantity(
    "width-error",
    "width error",
    "%",
    Sense.EITHER_WAY,
    "how far the width is from what it should be",
    Phrase("{size}{way}", " too wide", " too narrow", " off"),
)
SKEW = Quantity("skew", "skew", "dB", Sense.EITHER_WAY, "how lopsided the response is", Phrase("lopsided by {size}"))
CURVE_SHARE = 0.001
"""Of the 3 dB width: what the choice of curve may shift a centre by, one sigma."""


@dataclass(frozen=True, slots=True)
class PassbandFigures:
    """Where the figures of one width of one passband go, and how they are to be judged.

    `last_word`: whether they are judged here, or measured once more after adjusting. `adjustable`: whether any slug
    that moves the passband may be turned.
    """

    notes: StepNotes
    target: ScanTarget
    when: Phase
    last_word: bool
    adjustable: bool

    @property
    def where(self) -> str:
        """Say which width, where there are several."""
        control = self.notes.task.receiver.ifs[self.notes.task.step.subject.removeprefix("if.")].width_control
        choice = self.target.hookup.controls.get(control) if control else None
        return "" if choice is None else str(choice)

    def not_measured(self, reason: str) -> None:
        """Note that nothing could be measured, and why."""
        self.notes.not_measured(CENTRE, reason, self.where, self.when)


def with_curve_doubt(fit: PassbandFit) -> PassbandFit:
    """Widen a centre by what the choice of curve may shift it: no model is quite the circuits' own."""
    if fit.centre is None or fit.width_3db is None:
        return fit
    shift_hz = CURVE_SHARE * fit.width_3db.value
    return replace(fit, centre=Estimate(fit.centre.value, math.hypot(fit.centre.sigma, shift_hz)))


def note_whole(figures: PassbandFigures, seen: PassbandFit) -> tuple[Judged | None, ...]:
    """Note the whole passband's figures; give how each was judged, None where it could not be."""
    fit = with_curve_doubt(seen)
    step, target = figures.notes.task.step, figures.target
    reason = " ".join(doubt.text for doubt in fit.doubts) or "The readings support no such figure."
    centre = centre_error_percent(fit, target.nominal_centre_hz)
    width = _width_error(fit, target)
    skew = None if fit.skew is None else Estimate(abs(fit.skew.value), fit.skew.sigma)
    judged = (
        None if centre is None else _judge_centre(figures, centre, limit_of(step, CENTRE)),
        None if width is None else _judge_width(figures, width, limit_of(step, WIDTH_ERROR)),
        None if skew is None else judge_at_most(f"The skew of the {target.name}", skew, limit_of(step, SKEW), say_db),
    )
    _note_plain(figures, MIDDLE, fit.centre)
    _note_plain(figures, WIDTH, fit.width_3db)
    rows = ((CENTRE, centre), (WIDTH_ERROR, width), (SKEW, fit.skew))
    for (quantity, figure), one in zip(rows, judged, strict=True):
        shown = one if figures.last_word else None
        without = None if figure is not None else reason
        figures.notes.findings.append(Finding(quantity, figures.where, figure, shown, without, figures.when))
    _advise(figures, fit, judged[0])
    return judged


def _note_plain(figures: PassbandFigures, quantity: Quantity, figure: Estimate | None) -> None:
    if figure is not None:
        figures.notes.findings.append(Finding(quantity, figures.where, figure, when=figures.when))


def _width_error(fit: PassbandFit, target: ScanTarget) -> Estimate | None:
    if fit.width_3db is None:
        return None
    nominal = target.nominal_width_hz
    return Estimate(100.0 * (fit.width_3db.value - nominal) / nominal, 100.0 * fit.width_3db.sigma / nominal)


def _judge_centre(figures: PassbandFigures, centre: Estimate, most: float) -> Judged:
    """A passband nobody may adjust and no control shifts is off by a part, if it is off."""
    signs = Signs(nothing_to_turn=not figures.adjustable and not _is_shifted(figures))
    return judge_error(f"The centre of the {figures.target.name}", centre, most, say_percent, signs=signs)


def _judge_width(figures: PassbandFigures, width: Estimate, most: float) -> Judged:
    """The slugs set frequencies; once they are right, a width that is off is the coupling's or the damping's."""
    signs = Signs(nothing_to_turn=not figures.adjustable or figures.when is Phase.AS_LEFT)
    error = Estimate(abs(width.value), width.sigma)
    return judge_at_most(f"The width error of the {figures.target.name}", error, most, say_percent, signs=signs)


def _is_shifted(figures: PassbandFigures) -> bool:
    control = figures.notes.task.receiver.passband_control
    return control is not None and figures.notes.task.step.subject == f"if.{control.intermediate}"


def _advise(figures: PassbandFigures, fit: PassbandFit, centre: Judged | None) -> None:
    control = figures.notes.task.receiver.passband_control
    if centre is None or centre.beyond is None or centre.beyond.value <= 0.0 or fit.centre is None:
        return
    if control is not None and _is_shifted(figures):
        off_hz = fit.centre.value - figures.target.nominal_centre_hz
        figures.notes.advice.append(
            f"The {figures.target.name} is {say_hz(abs(off_hz))} {'high' if off_hz > 0 else 'low'}: the control "
            f"{control.control} shifts it, so see first whether its knob stands right on its shaft."
        )


def note_stage(figures: PassbandFigures, name: str, seen: PassbandFit) -> None:
    """Note what one stage is like alone, as information: the step's limits are for the whole."""
    fit = with_curve_doubt(seen)
    where = f"{name} alone"
    if fit.centre is None:
        reason = " ".join(doubt.text for doubt in fit.doubts)
        figures.notes.not_measured(MIDDLE, reason, where, figures.when)
        return
    error = centre_error_percent(fit, figures.target.nominal_centre_hz)
    figures.notes.findings += [
        Finding(MIDDLE, where, fit.centre, when=figures.when),
        Finding(CENTRE, where, error, when=figures.when),
        Finding(WIDTH, where, fit.width_3db, when=figures.when),
    ]


def what_is_wrong(step: Step, fit: PassbandFit, nominal_hz: float, alone_khz: float | None) -> str | None:
    """Say what is surely wrong with a stage alone by the step's own limits, as the end of a sentence, if anything is.

    Args:
        step: the passband's step.
        fit: the stage alone.
        nominal_hz: where its centre should be.
        alone_khz: how wide it should be alone, where that is known.
    """
    error = centre_error_percent(fit, nominal_hz)
    if is_beyond_sweep(fit):
        return f"far off: {NO_PASSBAND_HERE}"
    if error is None or fit.width_3db is None:
        return None
    if abs(error.value) - SURE_SIGMAS * error.sigma > limit_of(step, CENTRE):
        return f"{say_percent(abs(error.value))} of its 3 dB width {'high' if error.value > 0 else 'low'}"
    if alone_khz is None:
        return None
    wanted_hz = alone_khz * HZ_PER_KHZ
    wide = Estimate(100.0 * (fit.width_3db.value / wanted_hz - 1.0), 100.0 * fit.width_3db.sigma / wanted_hz)
    if abs(wide.value) - SURE_SIGMAS * wide.sigma > limit_of(step, WIDTH_ERROR):
        return f"{say_percent(abs(wide.value))} too {'wide' if wide.value > 0 else 'narrow'}"
    return None
