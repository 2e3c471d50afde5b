"""A can by its own edges: sweep it, set its slugs to their common peak, then balance its edges about its frequency.

The common peak matches the two slugs but leaves the can's frequency blunt, since near critical coupling the top is
flat. The edges are steep there, and tell which way both slugs are to go together.
"""

import math
from collections.abc import Generator
from typing import Any

from sequences.alignment.outcome import Finding, Phase, Turning
from sequences.engine.asks import connect
from sequences.engine.requests import Request
from sequences.engine.steps import set_output
from sequences.errors import SequenceError
from sequences.kinds.if_can.can_balance import balance_edges
from sequences.kinds.if_can.can_live import balance_live
from sequences.kinds.if_can.can_slugs import (
    COUPLING,
    SlugsSet,
    coupling_findings,
    set_slugs,
    slugs_advice,
    slugs_findings,
)
from sequences.kinds.if_can.can_view import CanView
from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import PassbandFit
from sequences.numerics.responses.stages import hump_difference, loss_by_mismatch, loss_off_centre
from sequences.numerics.verdicts.verdict import Judged, Standing, adjust_without_figure, judge_at_most, judge_error
from sequences.numerics.wording import say_db, say_percent
from sequences.plan.content import WayName
from sequences.procedures.adjusting.circuit_findings import (
    CENTRE,
    LEFT,
    MIDDLE,
    WIDTH,
    centre_error_percent,
    gained_finding,
    limit_of,
    sentence_start,
)
from sequences.procedures.adjusting.one_adjuster import live_level
from sequences.procedures.adjusting.step_notes import StepNotes
from sequences.procedures.adjusting.two_adjusters import PairSet
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.procedures.sweeps.place import HZ_PER_KHZ, nominal_hz
from sequences.procedures.sweeps.source_level import find_source_level
from sequences.procedures.sweeps.stage_sweep import (
    NO_PASSBAND_HERE,
    is_beyond_sweep,
    less,
    own_doubts,
    span_about,
    sweep,
)
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.windows import window_of

HUMPS = Quantity(
    "hump-difference",
    "upper hump over lower hump",
    "dB",
    Sense.EITHER_WAY,
    "how unequal two humps are",
    Phrase("uneven by {size} between its humps"),
)
MATCHED = 0.5
"""Of the limit: slugs whose standing apart costs no more are let be where the can is set live."""

WELL_OVER = 1.25
SURE_SIGMAS = 2.0


def align_by_edges(view: CanView, notes: StepNotes) -> Generator[Request, Any, None]:
    """Measure a can by sweeps, and in the adjusting phase set it.

    Raises:
        SequenceError: nothing arrives, or what stands behind the can cannot be measured.
    """
    return (yield from _Can(view, notes).carry_out())


class _Can:
    """One can on the bench."""

    def __init__(self, view: CanView, notes: StepNotes) -> None:
        self.view, self.notes, self.task = view, notes, notes.task
        self.name = notes.task.step.subject.removeprefix("filter.")
        self.nominal = nominal_hz(notes.task)
        self.limit_db = limit_of(notes.task.step, LEFT)
        self.width_hz = window_of(notes.task.receiver, notes.task.step.subject).width_khz * HZ_PER_KHZ
        self.span = span_about(self.nominal, self.width_hz)
        self.live = notes.task.turning is Turning.LIVE
        self.downstream: PassbandFit | None = None

    def carry_out(self) -> Generator[Request, Any, None]:
        yield from self._measure_downstream()
        yield from connect(self.view.place.hookup, self.view.place.cautions)
        seen = yield from self._sweep()
        if self.task.phase is Phase.AS_LEFT:
            self._note(seen, Phase.AS_LEFT)
            return
        apart = self._mismatch(seen)
        if self.task.phase is Phase.AS_FOUND:
            self._note(seen, Phase.AS_FOUND, also_left=apart)
        elif self._is_good(seen, apart):
            self.notes.advice.append(f"{sentence_start(self.name)} is within its limits as found: nothing was turned.")
            self._note(seen, Phase.AS_FOUND, also_left=apart)
        else:
            self._note(seen, Phase.AS_FOUND, also_left=apart, last_word=False)
            yield from self._adjust(seen, apart)

    def _measure_downstream(self) -> Generator[Request, Any, None]:
        """Sweep what stands behind the can from the point right after it, to be taken off later."""
        place = self.view.downstream
        if place is None:
            return
        key = (self.task.step.id, self.task.way.name, "behind")
        self.downstream = None if self.task.phase is Phase.AS_FOUND else self.task.kept.of_hookup(key, PassbandFit)
        if self.downstream is not None:
            return  # nothing of it is turned here
        yield from connect(place.hookup, place.cautions)
        result = yield from sweep(place, self.span)
        if result.fit.centre is None or result.fit.width_3db is None:
            raise SequenceError(f"What stands behind {self.name} could not be measured: {' '.join(result.doubts)}")
        self.downstream = result.fit
        self.task.kept.keep_of_hookup(key, result.fit)

    def _sweep(self) -> Generator[Request, Any, PassbandFit]:
        """Sweep with the leads where they are, and give the can alone."""
        result = yield from sweep(self.view.place, self.span)
        alone = result.fit if self.downstream is None else (yield from less(result, self.downstream))
        self.notes.doubts += [*own_doubts(result), *(doubt.text for doubt in alone.doubts)]
        return alone

    def _mismatch(self, fit: PassbandFit) -> Estimate | None:
        """Give what its slugs' standing apart costs, as far as a sweep can show it before they have been matched."""
        return None if self._meant_over_coupled() else loss_by_mismatch(fit, self.width_hz)

    def _is_good(self, fit: PassbandFit, apart: Estimate | None) -> bool:
        """A can within its limits that looks coupled as it was made is left alone."""
        to_gain = _sum(loss_off_centre(fit, self.nominal), apart)
        judged = (self._judge_gain(to_gain), self._judge_centre(fit))
        return all(one is not None and one.standing is Standing.WITHIN for one in judged)

    def _meant_over_coupled(self) -> bool:
        return self.task.receiver.filters[self.name].coupling == "over-coupled"

    def _judge_gain(self, to_gain: Estimate | None) -> Judged | None:
        if to_gain is None:
            return None
        return judge_at_most(f"What {self.name} can still gain", to_gain, self.limit_db, say_db)

    def _judge_centre(self, fit: PassbandFit) -> Judged | None:
        error = centre_error_percent(fit, self.nominal)
        if error is None:
            return None
        most = limit_of(self.task.step, CENTRE)
        return judge_error(f"The centre of {self.name}", error, most, say_percent)

    def _note(
        self, fit: PassbandFit, when: Phase, *, last_word: bool = True, also_left: Estimate | None = None
    ) -> None:
        """Note what a sweep showed; it is judged where it is the last word. `also_left`: what no sweep can show."""
        if fit.centre is None:
            self._note_without_centre(fit, when, last_word=last_word)
            return
        centre = self._judge_centre(fit) if last_word else None
        error = centre_error_percent(fit, self.nominal)
        self.notes.findings += [
            Finding(MIDDLE, "", fit.centre, when=when),
            Finding(CENTRE, "", error, centre, when=when),
            Finding(WIDTH, "", fit.width_3db, when=when),
        ]
        if fit.coupling is not None:
            self.notes.findings.append(Finding(COUPLING, "", fit.coupling, when=when))
        to_gain = _sum(loss_off_centre(fit, self.nominal), also_left)
        if to_gain is not None:
            gain = self._judge_gain(to_gain) if last_word else None
            self.notes.findings.append(Finding(LEFT, "", to_gain, gain, when=when))
        self._note_humps(fit, when, last_word=last_word)

    def _note_without_centre(self, fit: PassbandFit, when: Phase, *, last_word: bool) -> None:
        """A can whose edges lie beyond the widest sweep is far off as found: that is a verdict too."""
        reason = " ".join(one.text for one in fit.doubts)
        if not (last_word and when is Phase.AS_FOUND and is_beyond_sweep(fit)):
            self.notes.not_measured(CENTRE, reason, when=when)
            return
        name = f"The centre of {self.name}"
        judged = adjust_without_figure(name, limit_of(self.task.step, CENTRE), NO_PASSBAND_HERE)
        self.notes.findings.append(Finding(CENTRE, "", None, judged, reason, when))

    def _note_humps(self, fit: PassbandFit, when: Phase, *, last_word: bool) -> None:
        if _is_well_over(fit.coupling) and not self._meant_over_coupled():
            self.notes.advice.append(
                f"{sentence_start(self.name)} looks over-coupled {when}: its slugs stand apart, or its coils too close "
                "together. It is not to be peaked by meter."
            )
        humps = hump_difference(fit)
        if humps is None or self.task.way.name is not WayName.HUMP_BALANCE:
            return
        size = Estimate(abs(humps.value), humps.sigma)
        judged = judge_at_most(f"The difference of the humps of {self.name}", size, self.limit_db, say_db)
        self.notes.findings.append(Finding(HUMPS, "", humps, judged if last_word else None, when=when))

    def _adjust(self, seen: PassbandFit, apart: Estimate | None) -> Generator[Request, Any, None]:
        place = self.view.place
        level = yield from find_source_level([self.nominal], place.level_dbm, place.highest_dbm, place.settle_s)
        self.notes.doubts += level.doubts
        held = HeldOutput(level, place.highest_dbm, place.settle_s)
        before = yield from held.read(self.nominal, Phase.AS_FOUND)
        slugs: SlugsSet | None = None
        if self.live and self._only_off_centre(seen, apart):
            yield from balance_live(seen, self.downstream, None, held, self.notes)
        else:
            slugs = yield from self._match_and_centre(held)
        after = yield from held.read(self.nominal, Phase.AS_LEFT)
        self.notes.findings.append(gained_finding(before, after))
        yield from self._note_as_left(slugs)

    def _only_off_centre(self, seen: PassbandFit, apart: Estimate | None) -> bool:
        """Tell whether the slugs seem to stand together, so that only the whole is off; the sweep as left tells."""
        centre = self._judge_centre(seen)
        off = centre is not None and centre.standing is not Standing.WITHIN
        return off and apart is not None and apart.value <= MATCHED * self.limit_db

    def _match_and_centre(self, held: HeldOutput) -> Generator[Request, Any, SlugsSet]:
        """Set both slugs to their common peak, then bring the whole onto its frequency."""
        live = live_level(self.task, held, self.nominal, self.limit_db)
        slugs = yield from set_slugs(
            self.task.step, lambda purpose: held.read(self.nominal, purpose), self.notes.hand, live
        )
        self.notes.advice += slugs_advice(slugs)
        if isinstance(slugs, PairSet) and slugs.half_width_turns is not None:
            fit = yield from self._sweep()
            yield from set_output(True)
            balance = balance_live if self.live else balance_edges
            yield from balance(fit, self.downstream, slugs.half_width_turns, held, self.notes)
        return slugs

    def _note_as_left(self, slugs: SlugsSet | None) -> Generator[Request, Any, None]:
        fit = yield from self._sweep()
        if slugs is None:
            self._note(fit, Phase.AS_LEFT, also_left=self._mismatch(fit))
        elif isinstance(slugs, PairSet) and slugs.settled is not None:
            left = slugs.settled.left_db
            self._note(fit, Phase.AS_LEFT, also_left=Estimate(abs(left.value), left.sigma))
            self.notes.findings += coupling_findings(self.task, slugs, self.limit_db, fit.coupling)
        else:
            self._note(fit, Phase.AS_LEFT, last_word=False)
            self.notes.findings += slugs_findings(self.task, slugs, self.limit_db)


def _sum(one: Estimate | None, other: Estimate | None) -> Estimate | None:
    if one is None or other is None:
        return one
    return Estimate(one.value + other.value, math.hypot(one.sigma, other.sigma))


def _is_well_over(coupling: Estimate | None) -> bool:
    return coupling is not None and coupling.value - SURE_SIGMAS * coupling.sigma > WELL_OVER
