"""Two ways to see a preselector: by a probe at the mixer, or through the receiver's own window, retuned by hand."""

from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np

from sequences.alignment.outcome import Task
from sequences.engine.asks import connect
from sequences.engine.events import CurveFitted
from sequences.engine.questions import SetControl
from sequences.engine.requests import Request, asking
from sequences.engine.steps import ask, set_output, tell
from sequences.errors import SequenceError
from sequences.kinds.preselector.panel import Panel, Setting
from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import PassbandFit, fit_passband
from sequences.numerics.responses.staggered import tilt_shift
from sequences.plan.content import Spot, WayName
from sequences.procedures.dials.dial_marks import REACH_IN_WIDTHS, window_width_hz
from sequences.procedures.dials.find_receiver import Finder, Whereabouts, find_again, find_first, passband_centre
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.procedures.sweeps.place import HZ_PER_KHZ, Place, place_of
from sequences.procedures.sweeps.scan import KEPT_CURVE_POINTS, Detector, ScanSettings, scan
from sequences.procedures.sweeps.scan_figures import scan_figures
from sequences.procedures.sweeps.source_level import find_source_level
from sequences.receiver.cautions import cautions_for
from sequences.receiver.hookups import hook_up
from sequences.receiver.model import SIGNAL
from sequences.receiver.points import level_point, source_nearest_next_mixer
from sequences.receiver.preselector import preselector_width_khz

LOOKS = 9
LOOK_REACH_IN_WIDTHS = 1.5
"""How many frequencies over how many widths on either side are looked at for a level that does not flatten."""

POINTS = 11
POINTS_REACH_IN_WIDTHS = 1.3
LEAST_POINTS = 7
"""Through the receiver: how many frequencies, over how many widths on either side, and how few will do."""

WINDOW_NOISE_DB = 0.1
WINDOW_TILT_DB = 1.2
"""What the rest of the receiver adds to levels read through its window, for its own tuned circuits track only nearly:
a little at each, and a slope that may come to so much over the whole dial."""

FOLLOWED_NOISE_DB = 0.15
"""What it adds to a level, one sigma, that the middle of the window is found anew each time, only nearly."""

GANGED = (
    "The preselector is ganged with the dial, so that retuning the receiver moves the preselector too: through the "
    "receiver no response over frequency can be seen. Measure it by a probe at the mixer."
)
DIAL_IN_FIGURE = (
    "Nothing shows where the receiver really is behind the preselector: the dial's own error is in the centre error."
)


@dataclass(frozen=True, slots=True)
class Seen:
    """A response as seen with band, dial and knob set so.

    `tuned_hz` is the frequency the circuit should be centred on there, `tilt_hz` one sigma of what the rest of the
    receiver may shift the centre by; `fit` is None, or without a centre, where `reason` says why.
    """

    spot: Spot
    knob: float | None
    tuned_hz: Estimate
    fit: PassbandFit | None
    doubts: tuple[str, ...] = ()
    reason: str | None = None
    tilt_hz: float = 0.0


class View(Protocol):
    """A way to see the preselector. `levels_only`: it shows levels where the receiver is tuned, and no response."""

    levels_only: bool

    def ready(self) -> Generator[Request, Any, None]:
        """Have the leads put where they belong, and find out what is needed beforehand."""

    def response(self, spot: Spot, knob: float | None) -> Generator[Request, Any, Seen]:
        """Measure the response over frequency at a spot. A failure is an answer too."""

    def hold(self, spot: Spot, knob: float | None) -> Generator[Request, Any, tuple[HeldOutput, float]]:
        """Put the source on the frequency wanted at a spot and hold the output there, to peak an adjuster by.

        Raises:
            SequenceError: nothing arrives there.
        """


@dataclass(frozen=True, slots=True)
class Stands:
    """How the controls stand, and where the receiver was found at every spot, if it was looked for."""

    controls: Mapping[str, Setting]
    tuned_hz: Mapping[Spot, Estimate]


def view_of(task: Task) -> View:
    """Give the view of a step's way."""
    return ThroughView(task) if task.way.name is WayName.THROUGH_RECEIVER else ProbeView(task)


def controls_of(task: Task, spot: Spot, knob: float | None) -> dict[str, Setting]:
    """Give how band, dial and knob are to stand at a spot."""
    receiver = task.receiver
    controls: dict[str, Setting] = {}
    if receiver.band_control and spot.band is not None:
        controls[receiver.band_control] = spot.band
    if spot.dial_khz is not None:
        controls[receiver.dial.control] = spot.dial_khz
    if receiver.preselector.control and knob is not None:
        controls[receiver.preselector.control] = knob
    return controls


def nominal_hz(spot: Spot) -> float:
    """Give the signal frequency of a spot."""
    return (spot.source_khz or 0.0) * HZ_PER_KHZ


def nominal_width_hz(task: Task, spot: Spot) -> float:
    """Give the 3 dB width the preselector should have at a spot."""
    band = spot.band or next(iter(task.receiver.bands))
    return preselector_width_khz(task.receiver, band, spot.source_khz or 0.0) * HZ_PER_KHZ


class ProbeView:
    """The preselector alone, by a probe at the mixer; the source sweeps.

    Where it is ganged with the dial it must follow the receiver and not the dial's marks, so that the receiver is
    found at every mark first.
    """

    def __init__(self, task: Task) -> None:
        self.task = task
        self.place = place_of(task.receiver, task.way.hookup)
        self.panel = Panel(task.way.hookup.controls)
        self.levels_only = False
        self.tuned_hz: dict[Spot, Estimate] = {}
        self.doubts: tuple[str, ...] = ()

    def ready(self) -> Generator[Request, Any, None]:
        """Find the receiver at every mark, if it is ganged; then connect the probe."""
        if self.task.receiver.preselector.tuned_by == "gang":
            yield from self._find_receiver()
        yield from connect(self.task.way.hookup, self.task.way.cautions)
        self.panel = Panel(self.task.way.hookup.controls)

    @property
    def stands(self) -> "Stands":
        """Say how the bench stands."""
        return Stands(self.panel.controls, self.tuned_hz)

    def take_up(self, stands: "Stands") -> Generator[Request, Any, None]:
        """Go on where a run before left the bench: nothing is found out anew, and nothing is moved."""
        hookup = replace(self.task.way.hookup, controls=stands.controls)
        yield from connect(hookup, self.task.way.cautions)
        self.panel, self.tuned_hz = Panel(stands.controls), dict(stands.tuned_hz)

    def response(self, spot: Spot, knob: float | None) -> Generator[Request, Any, Seen]:
        """Scan over the nominal width several times; the detector's law is always learnt, so that none deceives."""
        yield from self.panel.set(controls_of(self.task, spot, knob))
        tuned_hz = self._tuned(spot)
        try:
            settings, doubts = yield from self._settings(spot, tuned_hz.value)
            result = yield from scan(settings)
        except SequenceError as error:
            yield from set_output(False)
            return Seen(spot, knob, tuned_hz, None, self.doubts, str(error))
        reason = None if result.fit.centre is not None else " ".join(result.doubts)
        return Seen(spot, knob, tuned_hz, result.fit, (*self.doubts, *doubts, *result.doubts), reason)

    def hold(self, spot: Spot, knob: float | None) -> Generator[Request, Any, tuple[HeldOutput, float]]:
        """Hold the probe's voltage at the frequency the receiver is tuned to."""
        yield from self.panel.set(controls_of(self.task, spot, knob))
        frequency_hz = self._tuned(spot).value
        level = yield from find_source_level(
            [frequency_hz], self.place.level_dbm, self.place.highest_dbm, self.place.settle_s
        )
        return HeldOutput(level, self.place.highest_dbm, self.place.settle_s), frequency_hz

    def _tuned(self, spot: Spot) -> Estimate:
        return self.tuned_hz.get(spot, Estimate(nominal_hz(spot), 0.0))

    def _settings(self, spot: Spot, tuned_hz: float) -> Generator[Request, Any, tuple[ScanSettings, tuple[str, ...]]]:
        width_hz = nominal_width_hz(self.task, spot)
        reach_hz = LOOK_REACH_IN_WIDTHS * width_hz
        looks = np.linspace(tuned_hz - reach_hz, tuned_hz + reach_hz, LOOKS).tolist()
        place = self.place
        level = yield from find_source_level(looks, place.level_dbm, place.highest_dbm, place.settle_s)
        half_span_hz = self._half_span_hz(spot, width_hz)
        settings = ScanSettings(
            start_hz=tuned_hz - half_span_hz,
            stop_hz=tuned_hz + half_span_hz,
            level_dbm=level.power_dbm,
            settle_s=place.settle_s,
            detector=Detector.CALIBRATE,
            highest_dbm=place.highest_dbm,
        )
        return settings, level.doubts

    def _half_span_hz(self, spot: Spot, width_hz: float) -> float:
        targets = dict(zip(self.task.step.spots, self.task.step.targets, strict=False))
        target = targets.get(spot)
        return 4 * width_hz if target is None else 0.5 * (target.stop_hz - target.start_hz)

    def _find_receiver(self) -> Generator[Request, Any, None]:
        """Look from behind the preselector: through it, its own slope would pull the passband's centre to itself."""
        receiver = self.task.receiver
        detector, source = level_point(receiver), source_nearest_next_mixer(receiver, SIGNAL)
        if detector is None or source in (None, self.task.way.hookup.source_to):
            self.doubts = (DIAL_IN_FIGURE,)
            return
        hookup = hook_up(receiver, self.task.way.hookup.controls, source=source, meter=detector[0])
        yield from connect(hookup, cautions_for(receiver, hookup))
        panel, follower = Panel(hookup.controls), Follower(self.task, place_of(receiver, hookup))
        for spot in self.task.step.spots:
            yield from panel.set(controls_of(self.task, spot, None))
            try:
                self.tuned_hz[spot] = yield from follower.centre(nominal_hz(spot))
            except SequenceError as error:
                self.doubts += (f"Where the receiver is at {spot.dial_khz:g} kHz is not known: {error}",)


class Follower:
    """Follows a receiver that is tuned by hand, through one hookup."""

    def __init__(self, task: Task, place: Place) -> None:
        self.place = place
        self.width_hz = window_width_hz(task)
        self.finder: Finder | None = None

    def near(self, expected_hz: float) -> Generator[Request, Any, float]:
        """Give the middle of the receiver's window as nearly as a few readings tell.

        Raises:
            SequenceError: the receiver is not found.
        """
        where = Whereabouts(expected_hz, REACH_IN_WIDTHS * self.width_hz, self.width_hz)
        if self.finder is not None:
            return (yield from find_again(self.finder, where))
        self.finder, seen_hz = yield from find_first(self.place, where)
        return seen_hz

    def centre(self, expected_hz: float) -> Generator[Request, Any, Estimate]:
        """Give the centre of the receiver's passband.

        Raises:
            SequenceError: the receiver is not found, or its passband has no centre to be told.
        """
        seen_hz = yield from self.near(expected_hz)
        if self.finder is None:
            raise SequenceError("The receiver was not found.")
        return (yield from passband_centre(self.finder, seen_hz, self.width_hz))

    def held(self) -> HeldOutput:
        """Hold the output at what the window gave the first time.

        Raises:
            SequenceError: the receiver was not found before.
        """
        if self.finder is None:
            raise SequenceError("The receiver was not found.")
        return HeldOutput(self.finder.level, self.place.highest_dbm, self.place.settle_s)


class Followed:
    """The receiver at one spot, found anew before each level: for adjusters that move the receiver itself."""

    def __init__(self, follower: Follower, at_hz: float) -> None:
        self._follower, self._held = follower, follower.held()
        self.at_hz = at_hz

    def find(self) -> Generator[Request, Any, float]:
        """Put the source in the middle of the window, near where it was the last time; give where.

        Raises:
            SequenceError: the receiver is lost.
        """
        self.at_hz = yield from self._follower.near(self.at_hz)
        return self.at_hz

    def read(self, purpose: str) -> Generator[Request, Any, Estimate]:
        """Find the receiver, and give the level there.

        Raises:
            SequenceError: the receiver is lost, or no allowed power holds the output.
        """
        frequency_hz = yield from self.find()
        level = yield from self._held.read(frequency_hz, purpose)
        return Estimate(level.value, float(np.hypot(level.sigma, FOLLOWED_NOISE_DB)))


class ThroughView:
    """The preselector through the receiver's own window: it is retuned roughly, and the source finds it each time."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self.place = place_of(task.receiver, task.way.hookup)
        self.panel = Panel(task.way.hookup.controls)
        self.levels_only = task.receiver.preselector.tuned_by == "gang"

    def ready(self) -> Generator[Request, Any, None]:
        """Connect."""
        yield from connect(self.task.way.hookup, self.task.way.cautions)

    def response(self, spot: Spot, knob: float | None) -> Generator[Request, Any, Seen]:
        """Read the level at the window's middle with the receiver at one frequency after another."""
        tuned_hz = Estimate(nominal_hz(spot), 0.0)
        if self.levels_only:
            return Seen(spot, knob, tuned_hz, None, (), GANGED)
        try:
            frequencies_hz, levels = yield from self._levels(spot, knob)
        except SequenceError as error:
            yield from set_output(False)
            return Seen(spot, knob, tuned_hz, None, (), str(error))
        yield from set_output(False)
        sigma_db, level_db = zip(*((np.hypot(each.sigma, WINDOW_NOISE_DB), each.value) for each in levels), strict=True)
        fit = fit_passband(frequencies_hz, level_db, sigma_db)
        doubts = tuple(doubt.text for doubt in fit.doubts)
        yield from tell(CurveFitted(_figures(fit, doubts, frequencies_hz, level_db)))
        reason = None if fit.centre is not None else " ".join(doubts)
        return Seen(spot, knob, tuned_hz, fit, doubts, reason, self._tilt_hz(spot, fit))

    def _tilt_hz(self, spot: Spot, fit: PassbandFit) -> float:
        """Give how far the slope of all that follows may have moved the centre."""
        band = self.task.receiver.bands[spot.band or next(iter(self.task.receiver.bands))]
        width_hz = nominal_width_hz(self.task, spot) if fit.width_3db is None else float(fit.width_3db.value)
        over_width_db = WINDOW_TILT_DB * width_hz / ((band.high_khz - band.low_khz) * HZ_PER_KHZ)
        return tilt_shift(width_hz, over_width_db, self.task.receiver.preselector.circuits)

    def hold(self, spot: Spot, knob: float | None) -> Generator[Request, Any, tuple[HeldOutput, float]]:
        """Hold the detector's voltage with the source in the middle of the window, the receiver tuned to the spot."""
        follower, frequency_hz = yield from self._follow(spot, knob)
        return follower.held(), frequency_hz

    @property
    def width_hz(self) -> float:
        """Give the 3 dB width of the receiver's window."""
        return window_width_hz(self.task)

    def follow(self, spot: Spot) -> Generator[Request, Any, Followed]:
        """Have the receiver set to a spot, to follow it from there.

        Raises:
            SequenceError: it is not found.
        """
        follower, frequency_hz = yield from self._follow(spot, spot.knob_mark)
        return Followed(follower, frequency_hz)

    def _follow(self, spot: Spot, knob: float | None) -> Generator[Request, Any, tuple[Follower, float]]:
        """Begin anew at each spot: the gain differs from band to band."""
        yield from self.panel.set(controls_of(self.task, spot, knob))
        follower = Follower(self.task, self.place)
        frequency_hz = yield from follower.near(nominal_hz(spot))
        return follower, frequency_hz

    def _levels(self, spot: Spot, knob: float | None) -> Generator[Request, Any, tuple[list[float], list[Estimate]]]:
        follower, tuned_hz = yield from self._follow(spot, knob)
        held = follower.held()
        frequencies_hz, levels = [tuned_hz], [(yield from held.read(tuned_hz, "preselector"))]
        off_hz = tuned_hz - nominal_hz(spot)
        for wanted_hz in self._frequencies_hz(spot):
            yield from self._retune(spot, wanted_hz)
            try:
                seen_hz = yield from follower.near(wanted_hz + off_hz)
                level = yield from held.read(seen_hz, "preselector")
            except SequenceError:
                continue
            frequencies_hz.append(seen_hz)
            levels.append(level)
        if len(levels) < LEAST_POINTS:
            raise SequenceError(
                f"The receiver was found at only {len(levels)} frequencies about {spot.source_khz:g} kHz, too few for "
                "a response: raise the source level, or use a probe at the mixer."
            )
        return frequencies_hz, levels

    def _frequencies_hz(self, spot: Spot) -> list[float]:
        """Spread the frequencies over the response, as far as the dial goes."""
        receiver = self.task.receiver
        band = receiver.bands[spot.band or next(iter(receiver.bands))]
        reach_hz = POINTS_REACH_IN_WIDTHS * nominal_width_hz(self.task, spot)
        low_hz = max(band.low_khz * HZ_PER_KHZ, nominal_hz(spot) - reach_hz)
        high_hz = min(band.high_khz * HZ_PER_KHZ, nominal_hz(spot) + reach_hz)
        return [float(frequency_hz) for frequency_hz in np.linspace(low_hz, high_hz, POINTS)]

    def _retune(self, spot: Spot, wanted_hz: float) -> Generator[Request, Any, None]:
        """Have the dial set roughly; the preselector's knob stays."""
        control = self.task.receiver.dial.control
        dial_khz = (spot.dial_khz or 0.0) + (wanted_hz - nominal_hz(spot)) / HZ_PER_KHZ
        rounded = float(f"{dial_khz:.4g}")
        text = f"Set {control} to about {rounded:g} kHz; a little beside will do. Leave the preselector as it is."
        self.panel.forget(control)
        yield from ask(asking(SetControl(control, rounded), text))


def _figures(
    fit: PassbandFit, doubts: Sequence[str], frequencies_hz: Sequence[float], level_db: Sequence[float]
) -> dict[str, Any]:
    """Give a response with the levels it was fitted to: each is of several readings, so that none stands for it."""
    span_hz = (min(frequencies_hz), max(frequencies_hz))
    levels = {"frequency_hz": list(frequencies_hz), "level_db": list(level_db)}
    return {**scan_figures(fit, len(level_db), doubts, span_hz, KEPT_CURVE_POINTS), "levels": levels}
