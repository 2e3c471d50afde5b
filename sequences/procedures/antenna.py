"""From the antenna with the receiver tuned to each band in turn: what a receiver is proved by once it is aligned."""

from collections.abc import Generator, Sequence
from typing import Any

import numpy as np

from sequences.alignment.outcome import Task
from sequences.engine.asks import set_controls
from sequences.engine.requests import Request
from sequences.engine.steps import set_frequency, settle
from sequences.errors import SequenceError
from sequences.numerics.levels.passband_top import PassbandTop, passband_top
from sequences.numerics.wording import say_hz
from sequences.plan.content import Culprit, Limit, Spot, Step, WayName
from sequences.plan.parts import way
from sequences.plan.places import PRESELECTOR, WARM_UP, antenna_place, every_conversion_step
from sequences.procedures.dials.dial_marks import REACH_IN_WIDTHS, window_width_hz
from sequences.procedures.dials.find_receiver import Finder, Whereabouts, find_first
from sequences.procedures.sweeps.place import HZ_PER_KHZ, Place
from sequences.procedures.sweeps.source_level import read_volts
from sequences.receiver.chain import DialSetting, dial_marks, mid_band
from sequences.receiver.model import SIGNAL, Receiver
from sequences.receiver.points import level_point, source_with_all_behind
from sequences.receiver.preselector import knob_mark

TOP_REACH_IN_WIDTHS = 0.6
TOP_READINGS = 13
TOP_DEPTH_DB = 6.0
LEAST_NEAR_TOP = 8
"""The top is looked for so far on either side, by so many readings there and as many back; those near it count."""

WIDE_SHARE = 0.1
"""Of the middle frequency: a band broader than this is proved at its ends too."""


def antenna_step(
    receiver: Receiver,
    name: str,
    limit: Limit,
    words: tuple[str, str],
    meaning: str,
    settings: Sequence[DialSetting] | None = None,
    meter: str | None = None,
    points_at: Culprit | None = None,
) -> list[Step]:
    """Lay out a step that looks at the receiver from the antenna; none without access there.

    Args:
        receiver: whose step it is.
        name: of the kind, which is also its title and its id.
        limit: what the figure is held against.
        words: what is measured, and why so.
        meaning: for who has never opened a receiver.
        settings: where it looks; where `proof_settings` says on every band, if left out.
        meter: where the level is read; at the detector, else the AGC line, if left out.
        points_at: what is to be looked at first where the figure is outside its limit.
    """
    source, detector = source_with_all_behind(receiver, SIGNAL), level_point(receiver)
    if source is None or (detector is None and meter is None):
        return []
    at = meter or (detector[0] if detector is not None else None)
    settings = settings or [at for band in receiver.bands for at in proof_settings(receiver, band)]
    spots = tuple(Spot(at.band, at.dial_khz, at.signal_khz, knob_mark(receiver, at)) for at in settings)
    controls = controls_at(receiver, spots[0])
    return [
        Step(
            id=name.lower().replace(" ", "-"),
            kind=name,
            title=name[0].upper() + name[1:],
            subject="preselector",
            places_from_detector=antenna_place(receiver),
            ways=(way(receiver, WayName.THROUGH_RECEIVER, controls, words, source=source, meter=at),),
            limits=(limit,),
            spots=spots,
            depends_on=(WARM_UP, *every_conversion_step(receiver), PRESELECTOR),
            meaning=meaning,
            points_at=points_at,
        )
    ]


def proof_settings(receiver: Receiver, band: str) -> tuple[DialSetting, ...]:
    """Give where on a band a receiver is proved: the middle; and the first and last dial mark where the band is wide.

    Over a narrow band neither gain nor image changes by much, and a knob brings the preselector to its peak anywhere;
    over a wide one, or where a gang must track, the ends tell. Low, middle and high: common practice, no source.
    """
    entry, middle = receiver.bands[band], mid_band(receiver, band)
    is_wide = entry.high_khz - entry.low_khz > WIDE_SHARE * middle.signal_khz
    if receiver.preselector.tuned_by == "knob" and not is_wide:
        return (middle,)
    marks = dial_marks(receiver, band)
    return (marks[0], middle, marks[-1])


def controls_at(receiver: Receiver, spot: Spot) -> dict[str, str | float]:
    """Give how band, dial and preselector stand at a spot."""
    wanted = {
        receiver.band_control: spot.band,
        receiver.dial.control: spot.dial_khz,
        receiver.preselector.control: spot.knob_mark,
    }
    return {control: to for control, to in wanted.items() if control and to is not None}


def where_of(task: Task, spot: Spot) -> str:
    """Say which band and frequency a figure belongs to."""
    frequency = f"{spot.source_khz:g} kHz"
    return frequency if len(task.receiver.bands) == 1 else f"band {spot.band}, {frequency}"


def tune(task: Task, spot: Spot) -> Generator[Request, Any, None]:
    """Have the receiver tuned to a spot."""
    yield from set_controls(controls_at(task.receiver, spot))


def find_near(task: Task, place: Place, khz: float, harmonic: int = 1) -> Generator[Request, Any, tuple[Finder, float]]:
    """Find where the receiver hears, near a frequency in kHz; the source is left on there.

    `harmonic`: of the source, that makes the response; the window is so many times narrower.

    Raises:
        SequenceError: it hears nothing there at any level allowed.
    """
    width_hz = window_width_hz(task) / harmonic
    return (yield from find_first(place, Whereabouts(khz * HZ_PER_KHZ, REACH_IN_WIDTHS * width_hz, width_hz)))


def find_top(task: Task, place: Place, khz: float) -> Generator[Request, Any, tuple[Finder, PassbandTop]]:
    """Find where the receiver hears, near a frequency in kHz, and there the top of its passband.

    Raises:
        SequenceError: it hears nothing there at any level allowed, or the passband is too unsteady for its top.
    """
    finder, near_hz = yield from find_near(task, place, khz)
    reach_hz = TOP_REACH_IN_WIDTHS * window_width_hz(task)
    there = np.linspace(near_hz - reach_hz, near_hz + reach_hz, TOP_READINGS)
    places = np.concatenate([there, there[::-1]])
    volts = np.empty(places.size)
    for number, frequency_hz in enumerate(places):
        yield from set_frequency(float(frequency_hz))
        yield from settle(place.settle_s)
        volts[number] = yield from read_volts("top of the passband")
    # Whatever the detector's law, the strongest response gives the most; how flat it looks does not matter here.
    rise_db = 20.0 * np.log10(np.maximum(np.abs(volts - finder.quiet_v), finder.quiet_sigma_v + 1e-12))
    near = np.isfinite(rise_db) & (
        rise_db > float(np.max(rise_db[np.isfinite(rise_db)], initial=-np.inf)) - TOP_DEPTH_DB
    )
    if np.count_nonzero(near) < LEAST_NEAR_TOP:
        raise SequenceError(f"The passband near {say_hz(near_hz)} is too unsteady for its top to be found.")
    top = passband_top(places[near], rise_db[near])
    yield from set_frequency(top.frequency_hz)
    return finder, top
