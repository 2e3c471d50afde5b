"""Crystal oscillator activity: the test point's voltage on every band, against a reference band taken as zero.

More negative means stronger oscillation (common practice, no source). A slug of one band is peaked, one that several
bands share is put where the worst of them is best; a crystal that stays off then points to a part.
"""

import math
from collections.abc import Generator, Mapping
from dataclasses import dataclass, field, replace
from statistics import median
from typing import Any

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Stuck, Task, Turning
from sequences.engine.asks import choose, connect
from sequences.engine.events import Notice
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import tell
from sequences.errors import SequenceError
from sequences.kinds.crystal_activity.band_voltages import AGAIN, NOTHING_V, BandVoltages
from sequences.kinds.crystal_activity.shared_adjuster import LivePeak, Scale, Shared, peak_live, set_shared
from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.activity import DB_PER_NEPER, Activities, activities, is_stopped
from sequences.numerics.verdicts.verdict import (
    Judged,
    Signs,
    Standing,
    Verdict,
    judge_at_least,
    suspect_without_figure,
)
from sequences.numerics.wording import say_db, say_volts
from sequences.plan.content import StepAdjuster
from sequences.procedures.adjusting.step_notes import StepNotes
from sequences.procedures.adjusting.turning import Hand
from sequences.quantities import Phrase, Quantity, Sense

VOLTAGE = Quantity(
    "test-point-voltage",
    "test point voltage",
    "V",
    meaning="the voltage by which an oscillator tells how hard it runs",
    short="voltage",
)
ACTIVITY = Quantity(
    "activity",
    "activity against band {of}",
    "dB",
    Sense.AT_LEAST,
    "the same voltage as a level against that of the band named",
    Phrase(
        "{size}{way} than band {of}",
        " stronger",
        " weaker",
        place=", on band {where}",
        absent="dead on band{s} {places}, where the crystal did not oscillate",
    ),
    short="activity",
)
STANDS_OUT_DB = 3.0
"""Behind the middle of the other bands: worth a word, though the limit be kept (common practice, no source)."""

SWAPPED = (
    "The test point reads positive on band {band}, where an oscillator makes it negative: see that the meter's leads "
    "are the right way round and on the right point."
)

ALIKE_SHARE = 0.02
"""Of a voltage: a band read again a moment later that differs by more was moved (common practice, no source)."""

AT_REST = (
    "The test point rests at {volts} while no crystal runs. Each band's voltage is the difference to that: the more "
    "negative, the stronger the crystal oscillates."
)
LEAVE = "leave it"
SILENT = (
    "Every band reads nothing. See that the meter's lead is at the {point}, that its return is on the chassis and that "
    "the receiver is on."
)
NOT_JUDGED = (
    "Every band reads nothing at the {point}, so that no crystal is judged. If the lead is right, the oscillator runs "
    "on no band: suspect its valve or its supply before a crystal."
)

SEARCHED = (
    "Nothing can be watched where a crystal does not oscillate, so {name} is searched over its travel by counted turns."
)


def activity_against(band: str) -> Quantity:
    """Give the activity with the band that the others are held against."""
    return replace(ACTIVITY, of=band)


@dataclass(slots=True)
class _Bands:
    """What is known of the bands: their voltages, what could not be read, and what became of each band's adjuster."""

    reference: str
    limit_db: float | None
    volts: dict[str, Estimate] = field(default_factory=dict)
    unread: dict[str, str] = field(default_factory=dict)
    set_by: dict[str, Shared] = field(default_factory=dict)

    def compared(self) -> Activities:
        """Compare the bands as they read now."""
        if self.reference not in self.volts:
            return Activities({}, frozenset(), frozenset(), None)
        return activities(self.volts, self.reference)


@dataclass(frozen=True, slots=True)
class _AsRead:
    """Every band's voltage as it stands, and the band that the receiver is on."""

    volts: Mapping[str, Estimate]
    last_band: str


def crystal_activity(task: Task) -> Procedure[StepOutcome]:
    """Measure, and where asked adjust, the activity of a crystal oscillator on every band."""
    reference = task.receiver.conversions[task.step.subject.removeprefix("conversion.")].activity_reference_band
    voltages, notes = BandVoltages(task), StepNotes(task)
    bands = _Bands(reference or voltages.bands[0], next((limit.most for limit in task.step.limits), None))
    key = (task.step.id, task.way.name)
    anew = task.phase is Phase.AS_FOUND or voltages.is_difference
    before = None if anew else task.kept.take_figures(key, _AsRead)
    if before is None or not (yield from _still_stand(before, task, voltages, bands)):
        voltages.stand_at(task.way.hookup.controls)
        yield from connect(task.way.hookup, task.way.cautions)
        if voltages.is_difference:
            rest = yield from voltages.read_rest()
            notes.advice.append(AT_REST.format(volts=say_volts(rest.value)))
        yield from _read_all(voltages, bands)
    yield from _see_that_it_reads(task.way.hookup.meter_to or "test point", voltages, bands)
    if task.phase is Phase.ADJUST:
        notes.findings += _voltage_findings(bands, Phase.AS_FOUND)
        for adjuster in in_order(task.step.adjusters, bands.reference):
            try:
                yield from _adjust(adjuster, voltages, bands, notes)
            except SequenceError as error:
                notes.doubts.append(f"{adjuster.name} was left where it stood: {error}")
                yield from _read_all(voltages, bands)
        notes.advice += _left_alone(task, bands)
    notes.findings += [*_voltage_findings(bands), *_activity_findings(task, bands)]
    notes.advice += _weakest(bands)
    if voltages.last_band is not None and not bands.unread:
        task.kept.keep_figures(key, _AsRead(bands.volts, voltages.last_band))
    return notes.outcome()


def _left_alone(task: Task, bands: _Bands) -> list[str]:
    """Say of what was not touched that nobody knows whether it turns: a seized slug shows only when it is tried."""
    free = [each for each in task.step.adjusters if not each.measure_only and each.bands]
    names = [each.name for each in free if all(band in bands.volts and band not in bands.set_by for band in each.bands)]
    if not names:
        return []
    return [f"Left alone, with every band on them within its limit, and not tried to turn: {', '.join(names)}."]


def in_order(adjusters: tuple[StepAdjuster, ...], reference: str) -> list[StepAdjuster]:
    """Put the adjuster of the reference band first, since every other band is held against it."""
    return sorted(adjusters, key=lambda adjuster: reference not in adjuster.bands)


def _read_all(voltages: BandVoltages, bands: _Bands) -> Generator[Request, Any, None]:
    bands.volts.clear()
    bands.unread.clear()
    for band in voltages.bands:
        try:
            bands.volts[band] = yield from voltages.read(band)
        except SequenceError as error:
            bands.unread[band] = str(error)


def _still_stand(before: _AsRead, task: Task, voltages: BandVoltages, bands: _Bands) -> Generator[Request, Any, bool]:
    """Take up what the run before read a moment ago, where the band that it ended on reads the same still."""
    last = before.last_band
    controls = {**task.way.hookup.controls, **voltages.controls(last)}
    yield from connect(replace(task.way.hookup, controls=controls), task.way.cautions)
    voltages.stand_at(controls)
    try:
        volts = yield from voltages.read(last)
    except SequenceError:
        return False
    was = before.volts[last]
    if abs(volts.value - was.value) > ALIKE_SHARE * abs(was.value) + NOTHING_V:
        return False
    bands.volts = {**before.volts, last: volts}
    return True


def _see_that_it_reads(point: str, voltages: BandVoltages, bands: _Bands) -> Generator[Request, Any, None]:
    """Where no band reads anything, have the lead looked at; where that changes nothing, judge no crystal by it."""
    if not _reads_nothing(bands):
        return
    if (yield from choose("test point", SILENT.format(point=point), (AGAIN, LEAVE))) == AGAIN:
        yield from _read_all(voltages, bands)
    if _reads_nothing(bands):
        bands.unread |= dict.fromkeys(bands.volts, NOT_JUDGED.format(point=point))
        bands.volts.clear()


def _reads_nothing(bands: _Bands) -> bool:
    return bool(bands.volts) and all(abs(read.value) < NOTHING_V for read in bands.volts.values())


def _adjust(
    adjuster: StepAdjuster, voltages: BandVoltages, bands: _Bands, notes: StepNotes
) -> Generator[Request, Any, None]:
    """Set one adjuster where one of its bands asks for it."""
    served = tuple(band for band in voltages.bands if band in adjuster.bands or not adjuster.bands)
    if any(band not in bands.volts for band in served) or not _asks_for_it(served, bands):
        return
    if adjuster.measure_only:
        notes.advice.append(f"{adjuster.name} was set in the factory and is not turned.")
        return
    stopped = bands.compared().stopped.intersection(served)
    if notes.task.turning is Turning.LIVE and stopped:
        yield from tell(Notice(SEARCHED.format(name=adjuster.name)))
    live = notes.task.turning is Turning.LIVE and not voltages.is_difference
    if live and len(served) == 1 and not stopped:
        found = yield from peak_live(adjuster, served[0], voltages, _scale(bands), notes.hand)
    else:
        found = yield from set_shared(adjuster, served, voltages, _scale(bands), notes.hand)
    for band in served:
        bands.set_by[band] = found
        bands.volts[band] = yield from voltages.read(band)
    notes.advice += _what_was_done(adjuster, found, notes.hand)
    if found.compromise is not None:
        notes.doubts += [f"{adjuster.name}: {doubt.text}" for doubt in found.compromise.doubts]


def _asks_for_it(served: tuple[str, ...], bands: _Bands) -> bool:
    compared = bands.compared()
    for band in served:
        judged = _judge(band, bands, compared, Signs())
        if judged is not None and judged.verdict is not Verdict.LEAVE:
            return True
    return False


def _scale(bands: _Bands) -> Scale:
    """Give what a voltage is held against, from all bands as they read now; no floor where there is no reference."""
    strongest_v = max(abs(read.value) for read in bands.volts.values())
    reference = bands.volts.get(bands.reference)
    if bands.limit_db is None or reference is None or bands.reference in bands.compared().stopped:
        return Scale(strongest_v, None)
    return Scale(strongest_v, abs(reference.value) * 10 ** (-bands.limit_db / 20.0))


def _judge(band: str, bands: _Bands, compared: Activities, signs: Signs) -> Judged | None:
    """Judge one band. The reference band, being the yardstick, is held against the middle of the others."""
    name = f"The activity of band {band}"
    limit_db = bands.limit_db
    if band in compared.stopped:
        if signs.reason() is not None:
            return suspect_without_figure(name, -(limit_db or 0.0), signs)
        text = f"{name} is nothing at all: the crystal does not oscillate, adjust it."
        return Judged(Verdict.ADJUST, Standing.BEYOND, None, -(limit_db or 0.0), None, text)
    if limit_db is None or band not in compared.against_reference:
        return None
    figure: Estimate | None = compared.against_reference[band]
    if band == bands.reference:
        figure, name = compared.reference_db, f"{name}, the reference, against the middle of the others,"
    if figure is None:
        return None
    return judge_at_least(name, figure, -limit_db, say_db, reachable=_reachable_db(band, bands), signs=signs)


def _reachable_db(band: str, bands: _Bands) -> Estimate | None:
    """Give the best that the band's adjuster reached, in dB against the reference band."""
    found, reference = bands.set_by.get(band), bands.volts.get(bands.reference)
    best = None if found is None else found.reachable(band)
    if best is None or reference is None or not (best.value > 0.0 and reference.value < 0.0) or band == bands.reference:
        return None
    sigma = DB_PER_NEPER * math.hypot(best.sigma / best.value, reference.sigma / reference.value)
    return Estimate(DB_PER_NEPER * math.log(best.value / abs(reference.value)), sigma)


def _signs(band: str, task: Task, bands: _Bands, compared: Activities) -> Signs:
    """Collect what points to a part, once the band's adjuster was set or proved not to be."""
    found = bands.set_by.get(band)
    if found is None:
        none = task.phase is Phase.ADJUST and not any(
            not one.measure_only and (not one.bands or band in one.bands) for one in task.step.adjusters
        )
        return Signs(never_peaks=none and band in compared.stopped, nothing_to_turn=none)
    siblings = [other for other, same in bands.set_by.items() if same is found and other != band]
    return Signs(
        out_of_travel=found.stuck is Stuck.END_OF_TRAVEL,
        seized=found.stuck is Stuck.SEIZED,
        siblings_right=bool(siblings) and all(_is_right(other, bands, compared) for other in siblings),
        never_peaks=band in found.never_ran,
    )


def _is_right(band: str, bands: _Bands, compared: Activities) -> bool:
    judged = _judge(band, bands, compared, Signs())
    return judged is not None and judged.standing is Standing.WITHIN


def _voltage_findings(bands: _Bands, when: Phase | None = None) -> list[Finding]:
    read = [Finding(VOLTAGE, band, volts, when=when) for band, volts in bands.volts.items()]
    unread = [Finding(VOLTAGE, band, None, reason=reason, when=when) for band, reason in bands.unread.items()]
    return read + unread


def _activity_findings(task: Task, bands: _Bands) -> list[Finding]:
    compared = bands.compared()
    quantity = activity_against(bands.reference)
    return [_activity_finding(quantity, band, task, bands, compared) for band in bands.volts]


def _activity_finding(quantity: Quantity, band: str, task: Task, bands: _Bands, compared: Activities) -> Finding:
    if band in compared.positive:
        return Finding(quantity, band, None, reason=SWAPPED.format(band=band))
    judged = _judge(band, bands, compared, _signs(band, task, bands, compared))
    if band in compared.stopped:
        reason = f"The crystal of band {band} does not oscillate: its test point reads nothing."
        return Finding(quantity, band, None, judged, reason)
    if band not in compared.against_reference:
        reason = f"Band {bands.reference}, which the others are held against, gave nothing to compare with."
        return Finding(quantity, band, None, reason=reason)
    return Finding(quantity, band, compared.against_reference[band], judged)


def _weakest(bands: _Bands) -> list[str]:
    """Name the weakest band; where it stands out, say what that points to."""
    against: Mapping[str, Estimate] = bands.compared().against_reference
    if not against:
        return []
    band = min(against, key=lambda each: against[each].value)
    weakest = f"The weakest band is {band}, at {say_db(against[band].value)} against band {bands.reference}."
    others = [each.value for name, each in against.items() if name != band]
    behind_db = median(others) - against[band].value if others else 0.0
    if behind_db <= STANDS_OUT_DB:
        return [weakest]
    stands_out = (
        f"Band {band} is {say_db(behind_db)} behind the middle of the others: its slug is off its best, or, where that "
        "stands right, its crystal is weak and will be the first to stop."
    )
    return [stands_out, weakest]


def _what_was_done(adjuster: StepAdjuster, found: Shared, hand: Hand) -> list[str]:
    """Say what became of an adjuster, and for each band what was gained and what it cost."""
    if found.stuck is Stuck.SEIZED:
        return [f"{adjuster.name} cannot be turned either way: free it without force, or suspect a broken core."]
    if found.live is not None:
        return [_what_was_done_live(adjuster, found.live)]
    chosen = found.compromise
    if chosen is None:
        low, high = found.searched_turns
        searched = f"from {abs(low):.2g} turns anticlockwise to {high:.2g} turns clockwise of where it was found"
        return [f"No band of {adjuster.name} oscillates anywhere {searched}, and there it stands again."]
    turns = hand.turns.get(adjuster.name, 0.0)
    way = "clockwise" if turns > 0.0 else "anticlockwise"
    stands = "as it was found" if chosen.leave_as_found else f"{abs(turns):.2f} turns {way} of where it was found"
    table = [
        f"band {one.name} from {_say_activity(one.as_found, one.chosen)} to {say_volts(-one.chosen.value)}, "
        f"{say_volts(max(0.0, one.loss.value))} short of its own best"
        for one in chosen.bands
    ]
    return [f"{adjuster.name} stands {stands}: {'; '.join(table)}."]


def _what_was_done_live(adjuster: StepAdjuster, live: LivePeak) -> str:
    short = say_volts(max(0.0, live.best.value - live.left_v))
    seen = "" if live.passed else ", but no peak was passed, so that nobody knows what is left: turn it again"
    went = f"from {say_volts(-live.found_v)} to {say_volts(-live.left_v)}, {short} short of the best"
    return f"{adjuster.name} was turned by the meter: {went}{seen}."


def _say_activity(volts: Estimate, beside: Estimate) -> str:
    """Say a voltage's size as the meter shows it, and one that is no oscillation as that."""
    return "nothing" if is_stopped(volts, beside.value) else say_volts(-volts.value)
