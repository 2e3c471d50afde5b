"""What a preselector's response comes to on one band: its figures, and each of them judged against its limit."""

import dataclasses
import math
from dataclasses import dataclass

from sequences.alignment.outcome import Finding, Phase, Task
from sequences.kinds.preselector.preselector_view import Seen
from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import PassbandFit
from sequences.numerics.responses.staggered import loaded_q_of_each, stagger_loss
from sequences.numerics.verdicts.verdict import Judged, Signs, Standing, judge_at_most, judge_error
from sequences.numerics.wording import in_unit, say_db
from sequences.procedures.adjusting.circuit_findings import CENTRE as CENTRE_ERROR
from sequences.procedures.adjusting.circuit_findings import LEFT, MIDDLE
from sequences.procedures.adjusting.circuit_findings import WIDTH as WIDTH_3DB
from sequences.procedures.sweeps.place import HZ_PER_KHZ
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.chain import dial_ends
from sequences.receiver.preselector import knob_mark

CENTRE = Quantity("signal-centre", MIDDLE.words, "kHz", meaning=MIDDLE.meaning)
WIDTH = Quantity("signal-width-3db", WIDTH_3DB.words, "kHz", meaning=WIDTH_3DB.meaning)
LOADED_Q = Quantity("loaded-q", "loaded Q", meaning="how sharp the circuit is: its frequency divided by its width")
POINTER = Quantity(
    "knob-pointer-error",
    "knob pointer error",
    "marks",
    Sense.EITHER_WAY,
    "how far the knob stands from the mark it should peak at",
    Phrase("off at its knob by {size}{way}", " upwards", " downwards"),
)
QUANTITIES = (CENTRE, WIDTH, LOADED_Q, POINTER)
PAIR = 2
ONLY_BY_TURNING = "The response shows no stagger between its circuits; what turning could gain shows only by turning."
NO_EDGES = "The response has no two edges to tell it by."
NO_CENTRE = "The centre could not be measured."


@dataclass(frozen=True, slots=True)
class BandFigures:
    """One band's figures; None where the response does not give them."""

    seen: Seen
    centre_hz: Estimate | None
    width_hz: Estimate | None
    loaded_q: Estimate | None
    error_percent: Estimate | None
    pointer_marks: Estimate | None
    left_db: Estimate | None


@dataclass(frozen=True, slots=True)
class BandJudged:
    """The figures with what each was judged to be; `right` is None where the band could not be measured."""

    figures: BandFigures
    error: Judged | None
    pointer: Judged | None
    left: Judged | None

    @property
    def right(self) -> bool | None:
        """Tell whether no figure is surely beyond its limit."""
        judged = [each for each in (self.error, self.pointer, self.left) if each is not None]
        return all(each.standing is not Standing.BEYOND for each in judged) if judged else None


ALIKE_WIDTHS = 0.02
"""Of the width: a response measured again a moment later whose centre is farther off was moved meanwhile."""


def are_alike(was: BandFigures, now: BandFigures) -> bool:
    """Tell whether a response stands where it stood."""
    if was.centre_hz is None or now.centre_hz is None or was.width_hz is None:
        return False
    clear_hz = 4.0 * math.hypot(was.centre_hz.sigma, now.centre_hz.sigma)
    return abs(now.centre_hz.value - was.centre_hz.value) <= max(ALIKE_WIDTHS * was.width_hz.value, clear_hz)


def band_figures(task: Task, seen: Seen) -> BandFigures:
    """Work out the figures of a response."""
    fit, circuits = seen.fit, task.receiver.preselector.circuits
    if fit is None or fit.centre is None:
        return BandFigures(seen, None, None, None, None, None, None)
    centre = Estimate(float(fit.centre.value), math.hypot(fit.centre.sigma, seen.tilt_hz))
    width = fit.width_3db
    loaded_q = fit.loaded_q
    if loaded_q is None and width is not None:
        loaded_q = loaded_q_of_each(centre, width, circuits)
    return BandFigures(
        seen=seen,
        centre_hz=centre,
        width_hz=width,
        loaded_q=loaded_q,
        error_percent=None if width is None else _percent(centre, seen.tuned_hz, width),
        pointer_marks=_pointer_marks(task, seen, centre),
        left_db=_left_db(task, seen, fit),
    )


def knob_for_peak(task: Task, seen: Seen) -> float | None:
    """Give where the knob should peak, as far as a response tells, within its range and to a twentieth of a mark.

    A response whose edges the dial does not reach still has its peak.
    """
    control = task.receiver.preselector.control
    mark = seen.spot.knob_mark
    top = None if seen.fit is None else seen.fit.centre or seen.fit.peak
    pointer = None if top is None else _pointer_marks(task, seen, top)
    if pointer is None or control is None or mark is None:
        return None
    entry = task.receiver.controls[control]
    wanted = round((mark + pointer.value) * 20) / 20
    low, high = entry.low if entry.low is not None else wanted, entry.high if entry.high is not None else wanted
    return min(max(wanted, low), high)


def judge_band(task: Task, figures: BandFigures, signs: Signs | None = None) -> BandJudged:
    """Judge a band against the step's limits."""
    most = {limit.quantity: limit.most for limit in task.step.limits}
    where = where_of(task, figures.seen)
    error = pointer = left = None
    if figures.error_percent is not None and CENTRE_ERROR in most:
        name = f"The preselector's centre at {where}"
        error = judge_error(
            name, figures.error_percent, most[CENTRE_ERROR], in_unit("% of its width", "{:.3g}"), signs=signs
        )
    if figures.pointer_marks is not None and POINTER in most:
        name = f"The knob position for the peak at {where}"
        pointer = judge_error(name, figures.pointer_marks, most[POINTER], in_unit("marks"), signs=signs)
    if figures.left_db is not None and LEFT in most:
        why = "not following the receiver" if _is_ganged(task) else "being tuned apart"
        name = f"What is lost by {why} at {where}"
        left = judge_at_most(name, figures.left_db, most[LEFT], say_db, signs=signs)
    return BandJudged(figures, error, pointer, left)


def band_findings(task: Task, judged: BandJudged, when: Phase | None = None) -> tuple[Finding, ...]:
    """List a band's figures. With `when` they are kept without verdicts, as what was before."""
    figures = judged.figures
    where = where_of(task, figures.seen)
    reason = NO_EDGES if figures.centre_hz is not None else NO_CENTRE
    rows = [
        (CENTRE, _khz(figures.centre_hz), None),
        (CENTRE_ERROR, figures.error_percent, judged.error),
        (WIDTH, _khz(figures.width_hz), None),
        (LOADED_Q, figures.loaded_q, None),
    ]
    if figures.seen.spot.knob_mark is not None:
        rows.append((POINTER, figures.pointer_marks, judged.pointer))
    findings = [
        Finding(quantity, where, figure, None if when else verdict, None if figure is not None else reason, when)
        for quantity, figure, verdict in rows
    ]
    findings[0] = dataclasses.replace(findings[0], reason=figures.seen.reason)
    if figures.left_db is not None or task.receiver.preselector.circuits == PAIR:
        why = reason if figures.centre_hz is None else ONLY_BY_TURNING
        findings.append(
            Finding(
                LEFT,
                where,
                figures.left_db,
                None if when else judged.left,
                None if figures.left_db is not None else why,
                when,
            )
        )
    return tuple(findings)


def where_of(task: Task, seen: Seen) -> str:
    """Say which band and frequency a response belongs to."""
    frequency = f"{seen.spot.source_khz:g} kHz"
    return frequency if len(task.receiver.bands) == 1 else f"band {seen.spot.band}, {frequency}"


def _is_ganged(task: Task) -> bool:
    return task.receiver.preselector.tuned_by == "gang"


def _left_db(task: Task, seen: Seen, fit: PassbandFit) -> Estimate | None:
    """Give what is lost: where it is ganged, off its peak where the receiver is tuned; else by stagger of a pair."""
    if not _is_ganged(task):
        pair = task.receiver.preselector.circuits == PAIR
        return stagger_loss(fit.coupling) if pair and fit.coupling is not None else None
    if fit.peak is None:
        return None
    tuned = seen.tuned_hz
    at_hz = [fit.peak.value, tuned.value, tuned.value - tuned.sigma, tuned.value + tuned.sigma]
    top_db, level_db, below_db, above_db = (float(level) for level in fit.level_db(at_hz))
    return Estimate(top_db - level_db, math.hypot(float(fit.level_sigma_db(at_hz)[1]), 0.5 * (above_db - below_db)))


def _percent(centre: Estimate, tuned: Estimate, width: Estimate) -> Estimate:
    value = 100.0 * float((centre.value - tuned.value) / width.value)
    return Estimate(value, math.hypot(100.0 * math.hypot(centre.sigma, tuned.sigma), value * width.sigma) / width.value)


def _pointer_marks(task: Task, seen: Seen, centre: Estimate) -> Estimate | None:
    """Give the knob position for the peak minus its mark: where it stands, less what the centre is off by."""
    mark = seen.spot.knob_mark
    if mark is None or seen.knob is None:
        return None
    slope_hz = hz_per_mark(task, seen)
    off_marks = (centre.value - seen.tuned_hz.value) / slope_hz
    sigma_marks = math.hypot(centre.sigma, seen.tuned_hz.sigma) / abs(slope_hz)
    return Estimate(seen.knob - mark - off_marks, sigma_marks)


def hz_per_mark(task: Task, seen: Seen) -> float:
    """Give the knob scale's slope over the band, from the file's marks at its two ends."""
    band = seen.spot.band or next(iter(task.receiver.bands))
    low, high = dial_ends(task.receiver, band)
    low_mark, high_mark = knob_mark(task.receiver, low) or 0.0, knob_mark(task.receiver, high) or 1.0
    return (high.signal_khz - low.signal_khz) * HZ_PER_KHZ / (high_mark - low_mark)


def _khz(estimate: Estimate | None) -> Estimate | None:
    return None if estimate is None else Estimate(estimate.value / HZ_PER_KHZ, estimate.sigma / HZ_PER_KHZ)
