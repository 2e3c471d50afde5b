"""Where to measure next: a search that begins with a coarse look and ends at the asked-for uncertainty.

The search is a frozen value. `choose` says where to read or that it is over, `observe` gives the search that knows one
reading more; nothing here waits, draws lots or remembers.

1. A coarse look over the span, which no peak a twentieth of the span wide can escape (`coarse_look`). Where its first
   half shows one clearly, the second half is read only beside that, and wherever something else stands off its skirt.
2. Closing in: halving the gaps in which the edges lie, until a curve can be fitted.
3. Each next reading where it shrinks the wanted uncertainty most (`design_criterion`), under all the kinds of curve
   that the readings still allow, each with its share of the evidence (`working_fit`). Sides alternate, so that a
   level that drifts slowly cancels.
4. The end: the fit of all readings (`passband.fit_passband`) gives the wanted figures with the asked-for uncertainty,
   or the budget is spent, or the response has shown that it will not give them.
"""

from dataclasses import dataclass, replace

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Doubt, DoubtName
from sequences.numerics.responses.candidates import Candidate
from sequences.numerics.responses.curves import EQUAL_CIRCUITS, SKEWED_CANS, SKEWED_PAIR
from sequences.numerics.responses.noise_floor import above_floor
from sequences.numerics.responses.odd_readings import Odd, odd_readings
from sequences.numerics.responses.passband import PassbandFit, fit_passband
from sequences.numerics.responses.readings import Readings, prepare
from sequences.numerics.search.coarse_look import LOOK_READINGS, closing_in, look_frequencies
from sequences.numerics.search.reading_choice import Before, best_frequency
from sequences.numerics.search.rivals import Rival, Skirts, Suspect, find_rival, rises_at, skirts_of
from sequences.numerics.search.working_fit import Leader, PriorNoise, leaders, modelled, refined, shares_of_variance

_UNKNOWN_NOISE_DB = 0.2
_PRIOR_READINGS = 2.0
"""What is held of the reading noise before any reading: little, but enough not to believe three lucky readings."""

_MOST_CLOSING_IN = 16
_FRUITLESS = 24
"""Readings after the look without a centre and a width that the readings support: then more of them are no use."""

_CLEAR_DB = 6.0
"""A peak is clear where the best reading of half a look stands so far above the middle one of them."""

_BESIDE_CELLS = 1.5
"""Places of the look are one cell apart, those of half a look two."""

_NEARLY_DONE = 4.0
"""Of the variance asked for: from there on what stands beside the response is told."""

_SAME_LOOK = 0.1
"""Of a cell of the look: a reading so near to a place of the look, wherever it comes from, will do for it."""

_COMPARE_GROWTH = 1.25
"""All kinds of curve are compared again when there are so many times more readings."""

_PASSBAND, _STRETCH = 0.6, 0.35
"""Of the width: within so much of the centre no stretch longer than this stays unread before the end."""

_PASSBAND_OF_FILTER = 0.75
_STRETCH_OF_FILTER = 0.12
"""The same where more than two circuits are at work: a filter of many circuits, each a little off, is like no kind of
curve, and what a few readings leave open between them only more of them show."""

_AT_MOST_TWO_CIRCUITS = (SKEWED_PAIR, *SKEWED_CANS)
_GUESSED_TOTAL = 70


@dataclass(frozen=True, slots=True)
class ScanGoal:
    """What a search is for.

    centre_fraction, width_fraction: asked-for one sigma of the centre and of the 3 dB width, as fractions of the 3 dB
    width; None where it does not matter. With neither, the search spends its budget on both. budget: most readings it
    may ask for, lost ones included.
    """

    start_hz: float
    stop_hz: float
    centre_fraction: float | None
    width_fraction: float | None
    budget: int


@dataclass(frozen=True, slots=True)
class Measure:
    """Read the level here next."""

    frequency_hz: float


@dataclass(frozen=True, slots=True)
class Finished:
    """No more readings. `reason` is one sentence for the person."""

    reason: str


@dataclass(frozen=True, slots=True)
class Search:
    """What the search knows. Made by `begin` and `observe`; its fields are their business alone.

    look: frequencies of the coarse look not yet read; put_off: those that are read only if need be; looks: how many
    looks, closings: how many readings of closing in there were. frequency_hz, level_db, sigma_db: the readings in the
    order in which they were taken. lost: where readings gave no level. leaders: the kinds of curve that lead, under the
    readings so far. fit: the last comparison of all kinds, of the first `fitted_at` readings. trust: how much larger
    its variance is than the leaders' own. again_hz: where a reading that may be a hump or a pop must be taken again.
    fruitless: readings taken while the fit supported no centre and width. rivals: other responses, whose readings are
    no business of the fit. done: progress.
    """

    goal: ScanGoal
    look: tuple[float, ...]
    put_off: tuple[float, ...] = ()
    looks: int = 1
    closings: int = 0
    frequency_hz: tuple[float, ...] = ()
    level_db: tuple[float, ...] = ()
    sigma_db: tuple[float | None, ...] = ()
    lost: tuple[float, ...] = ()
    leaders: tuple[Leader, ...] = ()
    fit: PassbandFit | None = None
    fitted_at: int = 0
    again_hz: float | None = None
    trust: float = 1.0
    fruitless: int = 0
    rivals: tuple[Rival, ...] = ()
    done: float = 0.0

    @property
    def asked(self) -> int:
        """How many readings the search has asked for."""
        return len(self.frequency_hz) + len(self.lost)


def begin(goal: ScanGoal) -> Search:
    """Start a search.

    Raises:
        ValueError: The span or the budget leaves nothing to read.
    """
    if not 0.0 < goal.start_hz < goal.stop_hz:
        raise ValueError(f"A scan must run upwards from above 0 Hz, not from {goal.start_hz:g} to {goal.stop_hz:g} Hz.")
    if goal.budget < 1:
        raise ValueError(f"A budget of {goal.budget} readings leaves nothing to read.")
    count = min(LOOK_READINGS, max(1, goal.budget // 2))
    look = tuple(look_frequencies(goal.start_hz, goal.stop_hz, count).tolist())
    half = (count + 1) // 2
    return Search(goal, look[:half], look[half:])


def choose(search: Search) -> Measure | Finished:
    """Say where to read next, or that there is nothing more to read."""
    end = _end(search)
    if end is not None:
        return Finished(end)
    if search.look:
        return Measure(search.look[0])
    place = _to_make_sure(search) if search.leaders else _closing_in(search)
    if place is not None:
        return Measure(place)
    before = Before(_readings(search), np.array(search.frequency_hz), np.array(search.lost))
    return Measure(best_frequency(search.leaders, _tolerances(search.goal), before, *_explained_span(search)))


def observe(search: Search, frequency_hz: float, level_db: float | None, sigma_db: float | None = None) -> Search:
    """Take in one reading.

    Args:
        search: What was known before it.
        frequency_hz: Where it was taken; it need not be where `choose` said.
        level_db: What it gave; None if it could not be turned into a level.
        sigma_db: Its one sigma, where the detector's law tells it; None for noise like that of the others.
    """
    near_hz = _SAME_LOOK * (search.goal.stop_hz - search.goal.start_hz) / LOOK_READINGS
    look, put_off = (
        tuple(place for place in places if abs(place - frequency_hz) > near_hz)
        for places in (search.look, search.put_off)
    )
    if level_db is None or not np.isfinite(level_db):
        search = replace(search, look=look, put_off=put_off, lost=(*search.lost, frequency_hz))
    else:
        search = replace(
            search,
            look=look,
            put_off=put_off,
            frequency_hz=(*search.frequency_hz, frequency_hz),
            level_db=(*search.level_db, level_db),
            sigma_db=(*search.sigma_db, sigma_db),
        )
    return _with_progress(_advanced(search))


def with_goal(search: Search, centre_fraction: float | None, width_fraction: float | None) -> Search:
    """Give the search with another uncertainty asked for; what was read so far counts on."""
    goal = replace(search.goal, centre_fraction=centre_fraction, width_fraction=width_fraction)
    return replace(search, goal=goal)


def current_fit(search: Search) -> PassbandFit | None:
    """Give the fit of all readings so far, or None before there are any."""
    if not search.frequency_hz:
        return None
    fit = search.fit
    if fit is None or search.fitted_at != len(search.frequency_hz):
        fit = _fit(search)
    return replace(fit, doubts=(*fit.doubts, *(Doubt(DoubtName.SECOND_PEAK, each.text) for each in search.rivals)))


def progress(search: Search) -> float:
    """Give how far the search is, from 0 to 1, never falling."""
    return search.done


def _advanced(search: Search) -> Search:
    if search.look:
        return search
    if not search.leaders:
        return _looked_on(search) if search.put_off and not search.closings else _closed_in(search)
    search = _with_rivals(search)
    if not _supported(search.fit):
        search = replace(search, fruitless=search.fruitless + 1)
    readings = _readings(search)
    lowest, highest = _explained_span(search)
    readings = readings.only((readings.frequency_hz >= lowest) & (readings.frequency_hz <= highest))
    odd = _odd(search, readings)
    carried = [refined(leader.candidate, readings.only(~odd.alone)) for leader in search.leaders]
    kept = [each for each in carried if each is not None]
    if len(kept) < len(carried) or _contradicted(readings, odd):
        return _compared(search)
    found = _leaders(search, kept)
    search = replace(search, leaders=found or search.leaders, again_hz=odd.again_hz)
    due = len(search.frequency_hz) >= _COMPARE_GROWTH * search.fitted_at
    close = bool(np.all(_shares(search) * search.trust <= 1.0))
    return _compared(search) if due or close or not found else search


def _explained_span(search: Search) -> tuple[float, float]:
    """The span, less the skirts that the last comparison left out: what they say is another matter."""
    lowest, highest = own_span(search)
    if search.fit is not None and search.fit.span_hz[0] > min(search.frequency_hz):
        lowest = search.fit.span_hz[0]
    if search.fit is not None and search.fit.span_hz[1] < max(search.frequency_hz):
        highest = search.fit.span_hz[1]
    return lowest, highest


def own_span(search: Search) -> tuple[float, float]:
    """Give the span without the stretches that belong to another response."""
    low, high = search.goal.start_hz, search.goal.stop_hz
    for rival in search.rivals:
        if rival.valley_hz < rival.frequency_hz:
            high = min(high, rival.valley_hz)
        else:
            low = max(low, rival.valley_hz)
    return low, high


def _skirts(search: Search) -> Skirts:
    return skirts_of(search.leaders[0], prepare(*_arrays(search)), np.array(search.lost))


def _with_rivals(search: Search) -> Search:
    """Take note of another response that was seen twice, and let the fit forget it."""
    if not (_supported(search.fit) and _is_nearly_done(search)):
        return search  # what leads early may not be the right kind of curve
    found = find_rival(_skirts(search))
    if not isinstance(found, Rival) or any(one.frequency_hz == found.frequency_hz for one in search.rivals):
        return search
    low, high = own_span(search)
    if not low < found.frequency_hz < high:
        return search
    return _compared(replace(search, rivals=(*search.rivals, found)))


def _is_nearly_done(search: Search) -> bool:
    """Tell whether what stands beside the response can be told; a meter that lags shows there what was read before."""
    return bool(np.all(_shares(search) <= _NEARLY_DONE)) and not _shows_effects(search)


def _shows_effects(search: Search) -> bool:
    return any(each.candidate.extra.size for each in search.leaders)


def _looked_on(search: Search) -> Search:
    """After half a look: where a peak shows clearly read beside it only, else read the other half too."""
    levels = np.sort(np.array(search.level_db))
    if not (levels.size >= LOOK_READINGS // 4 and levels[-1] - levels[levels.size // 2] >= _CLEAR_DB):
        return replace(search, look=search.put_off, put_off=())
    top_hz = search.frequency_hz[int(np.argmax(search.level_db))]
    cell_hz = (search.goal.stop_hz - search.goal.start_hz) / LOOK_READINGS
    beside = tuple(place for place in search.put_off if abs(place - top_hz) < _BESIDE_CELLS * cell_hz)
    if not beside:
        return _closed_in(search)
    return replace(search, look=beside, put_off=tuple(place for place in search.put_off if place not in beside))


def _odd(search: Search, readings: Readings) -> Odd:
    leader = search.leaders[0]
    curve_db, _ = modelled(leader.candidate, readings)
    return odd_readings(readings, curve_db, leader.candidate.noise_db, float(leader.figures[1]))


def _contradicted(readings: Readings, odd: Odd) -> bool:
    """Whether the last reading confirms another that stands off the leading curve."""
    return bool(odd.together[int(np.argmax(readings.time))])


def _closed_in(search: Search) -> Search:
    """Go on closing in, or compare all kinds of curve; look once more, in between, where none can be believed."""
    if search.closings < _MOST_CLOSING_IN and _closing_in(search) is not None:
        return replace(search, closings=search.closings + 1)
    search = _compared(search)
    if search.leaders or search.looks > 1:
        return search
    if search.put_off:
        return replace(search, look=search.put_off, put_off=(), closings=0)
    between = look_frequencies(search.goal.start_hz, search.goal.stop_hz, 2 * LOOK_READINGS)[LOOK_READINGS:]
    return replace(search, look=tuple(between.tolist()), looks=search.looks + 1, closings=0)


def _compared(search: Search) -> Search:
    """Compare all kinds of curve. Where none can be believed any more, those that led go on leading for a while."""
    fit = _fit(search)
    found = _leaders(search, [each.candidate for each in fit.curves]) or search.leaders
    search = replace(search, fit=fit, fitted_at=len(search.frequency_hz), again_hz=None, leaders=found, trust=1.0)
    if not (found and _supported(fit)):
        return search
    own = _shares(search)
    reported = _reported_shares(search.goal, fit)
    ratio = max((float(r / o) for r, o in zip(reported, own, strict=True) if o > 0.0), default=1.0)
    return replace(search, trust=float(np.clip(ratio, 1.0, 4.0)), fruitless=0)


def _leaders(search: Search, candidates: list[Candidate]) -> tuple[Leader, ...]:
    return leaders(candidates, _prior_noise(search), search.goal.start_hz, search.goal.stop_hz)


def _fit(search: Search) -> PassbandFit:
    return fit_passband(*_own(search))


def _readings(search: Search) -> Readings:
    """The readings as `fit_passband` takes them."""
    readings = above_floor(prepare(*_own(search)))
    noise = None if search.fit is None else search.fit.volt_noise
    if noise is None or not search.leaders:
        return readings
    level_db, _ = modelled(search.leaders[0].candidate, readings)
    return noise.weigh(readings, level_db)


def _arrays(search: Search) -> tuple[Array, Array, Array | None]:
    return np.array(search.frequency_hz), np.array(search.level_db), _sigma_db(search)


def _own(search: Search) -> tuple[Array, Array, Array | None]:
    """The readings without those of another response."""
    frequency, level, sigma = _arrays(search)
    low, high = own_span(search)
    own = (frequency >= low) & (frequency <= high)
    return frequency[own], level[own], None if sigma is None else sigma[own]


def _sigma_db(search: Search) -> Array | None:
    """One sigma of each reading; those that did not tell theirs get the middle one of the others."""
    told = [sigma for sigma in search.sigma_db if sigma is not None]
    if not told:
        return None
    middle = float(np.median(told))
    return np.array([middle if sigma is None else sigma for sigma in search.sigma_db])


def _prior_noise(search: Search) -> PriorNoise:
    sigma = _sigma_db(search)
    noise = _UNKNOWN_NOISE_DB if sigma is None else float(np.mean(sigma**-2.0) ** -0.5)
    return PriorNoise(noise, _PRIOR_READINGS)


def _tolerances(goal: ScanGoal) -> Array:
    """Asked-for one sigma of centre and width, as fractions of the width; infinite where it does not matter."""
    asked = (goal.centre_fraction, goal.width_fraction)
    if asked == (None, None):
        return np.array([1e-6, 2e-6])
    return np.array([np.inf if fraction is None else fraction for fraction in asked])


def _shares(search: Search) -> Array:
    return shares_of_variance(search.leaders, _tolerances(search.goal))


def _supported(fit: PassbandFit | None) -> bool:
    return fit is not None and fit.centre is not None and fit.width_3db is not None


def _reported_shares(goal: ScanGoal, fit: PassbandFit) -> Array:
    if fit.centre is None or fit.width_3db is None:
        return np.full(2, np.inf)
    sigmas = np.array([fit.centre.sigma, fit.width_3db.sigma])
    return np.asarray((sigmas / (_tolerances(goal) * fit.width_3db.value)) ** 2)


def _reached(search: Search) -> bool:
    if search.fit is None or search.fitted_at != len(search.frequency_hz):
        return False
    return bool(np.all(_shares(search) <= 1.0) and np.all(_reported_shares(search.goal, search.fit) <= 1.0))


def _to_make_sure(search: Search) -> float | None:
    """Where the fit needs to be made sure of: a reading that may be a hump, or an unread stretch of the passband."""
    if search.again_hz is not None:
        return search.again_hz
    if search.put_off and not _is_plain(search):
        return search.put_off[0]
    if not _supported(search.fit):
        return None
    return _unread_stretch(search) or (_beside_the_response(search) if _is_nearly_done(search) else None)


def _is_plain(search: Search) -> bool:
    """Tell whether one circuit explains the readings, without lag or drift: then its skirts hold no surprise."""
    if search.fit is None or not _supported(search.fit):
        return False
    return search.fit.model == EQUAL_CIRCUITS[0].name and not _shows_effects(search)


def _beside_the_response(search: Search) -> float | None:
    """Where something stands off the skirts: there again, or where the look was put off near it."""
    skirts = _skirts(search)
    found = find_rival(skirts)
    if isinstance(found, Suspect):
        return found.frequency_hz
    cell_hz = (search.goal.stop_hz - search.goal.start_hz) / LOOK_READINGS
    low, high = own_span(search)
    rising = (place for place in search.put_off if rises_at(skirts, place, _BESIDE_CELLS * cell_hz))
    return next((place for place in rising if low < place < high), None)


def _unread_stretch(search: Search) -> float | None:
    """The middle of the widest stretch of the passband without a reading, where it could hide a hump or a dip."""
    centre, width = search.leaders[0].figures
    filtering = any(leader.candidate.curve.holder not in _AT_MOST_TWO_CIRCUITS for leader in search.leaders)
    reach, stretch = (_PASSBAND_OF_FILTER, _STRETCH_OF_FILTER) if filtering else (_PASSBAND, _STRETCH)
    places = np.unique(search.frequency_hz + search.lost)
    beside = (places > centre - reach * width) & (places < centre + reach * width)
    gaps = np.where(beside[1:] | beside[:-1], np.diff(places), 0.0)
    widest = int(np.argmax(gaps))
    return float((places[widest] + places[widest + 1]) / 2.0) if gaps[widest] > stretch * width else None


def _closing_in(search: Search) -> float | None:
    """The next frequency of closing in. A reading that was lost there counts as low, or it would be asked for again."""
    if not search.level_db or search.closings > _MOST_CLOSING_IN:
        return None
    places = np.array(search.frequency_hz + search.lost)
    levels = np.array(search.level_db + (min(search.level_db),) * len(search.lost))
    return closing_in(places, levels, search.goal.start_hz, search.goal.stop_hz)


def _end(search: Search) -> str | None:
    """Why there is nothing more to read, if so."""
    if search.asked >= search.goal.budget:
        return f"The budget of {search.goal.budget} readings is spent{_so_far(search)}."
    if search.look:
        return None
    if not search.leaders:
        return _why_hopeless(search) if _closing_in(search) is None else None
    if _reached(search) and _to_make_sure(search) is None:
        return f"The asked-for uncertainty is reached{_so_far(search)}."
    return _why_hopeless(search) if search.fruitless >= _FRUITLESS else None


def _with_progress(search: Search) -> Search:
    if _end(search) is not None:
        return replace(search, done=1.0)
    total = float(_GUESSED_TOTAL)
    if search.leaders:
        total = search.asked * float(np.max(_shares(search)) * search.trust)
    total = min(max(total, search.asked + 1.0), float(search.goal.budget))
    return replace(search, done=max(search.done, min(search.asked / total, 0.99)))


def _so_far(search: Search) -> str:
    fit = current_fit(search)
    if fit is None or fit.centre is None or fit.width_3db is None:
        return ""
    width = fit.width_3db.value
    return (
        f": the centre is known to {100.0 * fit.centre.sigma / width:.2g} % "
        f"and the width to {100.0 * fit.width_3db.sigma / width:.2g} % of the 3 dB width"
    )


def _why_hopeless(search: Search) -> str:
    fit = current_fit(search)
    if fit is None:
        return "Not one reading could be turned into a level."
    said = " ".join(dict.fromkeys(doubt.text for doubt in fit.doubts))
    return said or "The readings do not settle on a response with two edges."
