"""What every simulated receiver has in common: hands on its parts, leads on its points, and time passing."""

import math
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np

from simulators.physics.agc import ControlTimes, GainControl, advance_control
from simulators.physics.audio import Floats, Scene
from simulators.physics.detectors import Carrier, Detector, lagged, slope
from simulators.physics.troubles import SlowNoise, Troubles
from simulators.radios.chain import Stage, Tones, follow, together
from simulators.radios.leads import Lead, Signal
from simulators.radios.parts import Adjuster, Control, HandError

_METER_OHM = 10e6
_LOUDNESS = 0.2
"""Full scales for a volt at the detector, with the volume where practice has it."""

_HUM_PEAK = 0.003
_LOWEST_NOTE_HZ = 100.0
_LONG_WARM_S = 3 * 3600.0
_Part = TypeVar("_Part")


@dataclass(frozen=True, slots=True)
class Sight:
    """What a meter point shows at one moment: its voltage, and how much that wanders, rms."""

    volts: float
    noise_volts: float


@dataclass(frozen=True, slots=True)
class Conditions:
    """How a receiver is to behave on the bench.

    Attributes:
        wobble_db: how far a carrier's level wanders from reading to reading, one sigma.
        cold: just switched on, rather than warm for hours.
        settles_at_once: detector and gain control come to rest before every reading, so that no time need pass.
        troubles: what this bench does that tidy ones do not.
        seed: of what wanders.
    """

    wobble_db: float = 0.0
    cold: bool = False
    settles_at_once: bool = False
    troubles: Troubles = field(default_factory=Troubles)
    seed: int = 1


class Radio(ABC):
    """A receiver on the bench. All times are seconds since it was switched on."""

    id: str
    name: str
    source_points: tuple[str, ...]
    meter_points: tuple[str, ...]
    counter_points: tuple[str, ...]
    first_leads: Mapping[str, str]
    detector: Detector
    detector_lag_s: float
    control_law: GainControl
    control_line_ohm: float

    def __init__(self, controls: list[Control], adjusters: list[Adjuster], conditions: Conditions) -> None:
        self.controls = {control.name: control for control in controls}
        self.adjusters = {adjuster.name: adjuster for adjuster in adjusters}
        self.source_lead = Lead(self.first_leads["source"])
        self.signal: Signal | None = None
        self.on_for_s = 0.0 if conditions.cold else _LONG_WARM_S
        self._carrier: Carrier | None = None
        self._peak_volts = 0.0
        self._stages: dict[str, list[Stage]] = {}
        self._worked_out_s = 0.0
        self._detector_volts = 0.0
        self._control_volts = 0.0
        self._conditions = conditions
        self._troubles = conditions.troubles
        self._slow_noise = SlowNoise(conditions.troubles.slow_noise_db, conditions.seed)
        self._rested = False

    # The parts as they stand.

    def position(self, adjuster: str) -> float:
        """How far an adjuster is from the middle of its travel, in turns."""
        one = self.adjusters[adjuster]
        return self._troubles.part_turns(one.position_turns, one.travel_turns)

    def second_warm_up_ppm(self, on_for_s: float) -> float:
        """What a slow part of the metal adds to every oscillator's warm-up."""
        return self._troubles.second_warm_up_ppm(on_for_s)

    def choice(self, control: str) -> str:
        """Where a switch stands."""
        return str(self.controls[control].value)

    def mark(self, control: str) -> float:
        """Where a knob stands."""
        return float(self.controls[control].value)

    # What a hand can do.

    def set_control(self, name: str, to: object) -> None:
        """Set a control.

        Raises:
            HandError: no such control, or no such place on it.
        """
        _named(self.controls, name, "control").set(to)
        self.changed()

    def turn(self, name: str, turns: float) -> float:
        """Turn an adjuster and give how far it moved."""
        moved = _named(self.adjusters, name, "adjuster").turn(turns)
        self.after_turn(name, moved)
        self.changed()
        return moved

    @abstractmethod
    def after_turn(self, name: str, moved: float) -> None:
        """Let a turn show on the control that shares the shaft, where there is one."""

    def feed(self, lead: Lead, signal: Signal | None) -> None:
        """Move the source's lead, or change what comes through it."""
        if lead.to is not None and lead.to not in self.source_points:
            raise HandError(_no_point("source", lead.to, self.source_points))
        if (lead, signal) != (self.source_lead, self.signal):
            self.source_lead, self.signal = lead, signal
            self._carrier = None

    def check_point(self, role: str, to: str) -> None:
        """Refuse a point this receiver does not have."""
        points = {"source": self.source_points, "meter": self.meter_points, "counter": self.counter_points}[role]
        if to not in points:
            raise HandError(_no_point(role, to, points))

    def changed(self) -> None:
        """Forget what was worked out from parts that have just changed."""
        self._carrier = None
        self._stages.clear()

    def stages_behind(self, point: str) -> list[Stage]:
        """The stages between a source point and the next; made anew only after a part has changed."""
        if point not in self._stages:
            self._stages[point] = self.make_stages(point)
        return self._stages[point]

    def stages_from(self, point: str) -> list[Stage]:
        """The stages from a source point to the detector."""
        first = self.source_points.index(point)
        return [stage for name in self.source_points[first:] for stage in self.stages_behind(name)]

    # What time does.

    def advance(self, elapsed_s: float) -> None:
        """Let time pass with everything left as it is."""
        if self._conditions.settles_at_once:
            self._rested = False
        else:
            self._control_volts = self._control_after(self.control_times(), elapsed_s)
            target = self._detect(self.control_law.gain(self._control_volts))
            lag_s = max(self.detector_lag_s, self._troubles.lag_s)
            self._detector_volts = lagged(self._detector_volts, target, elapsed_s, lag_s)
        self._slow_noise.advance(elapsed_s)
        self.on_for_s += elapsed_s
        if self.drifted(self._worked_out_s):
            self.changed()

    def _control_after(self, times: ControlTimes | None, elapsed_s: float) -> float:
        if times is None:
            return 0.0
        return advance_control(self.control_law, times, self._control_volts, self._detect, elapsed_s)

    def _rest(self) -> None:
        """Let gain control and detector come to rest, where this receiver settles at once."""
        if self._conditions.settles_at_once and not self._rested:
            off = self.control_times() is None
            self._control_volts = 0.0 if off else self.control_law.equilibrium(self._detect)
            self._detector_volts = self._detect(self.control_law.gain(self._control_volts))
            self._rested = True

    def tones_at_entry(self, signal: Signal) -> Tones:
        """What the source's lead brings to the point it is clipped on."""
        share = 1.0 if self.source_lead.to == "antenna" else self.source_lead.grid_share(signal.frequency_hz)
        return [(signal.frequency_hz, signal.emf_volts() * share)]

    def tones_at_detector(self) -> Tones:
        """Every tone that reaches the detector before gain control."""
        if self.signal is None or self.source_lead.to is None:
            return []
        return follow(self.tones_at_entry(self.signal), self.stages_from(self.source_lead.to))

    def grid_volts(self, point: str) -> float:
        """The rms voltage of all tones at a source point's grid, where the source enters there or before it."""
        entry = self.source_lead.to
        if self.signal is None or entry is None or self.source_points.index(entry) > self.source_points.index(point):
            return 0.0
        before = self.source_points[self.source_points.index(entry) : self.source_points.index(point)]
        stages = [stage for name in before for stage in self.stages_behind(name)]
        return together(follow(self.tones_at_entry(self.signal), stages))

    def carrier(self) -> Carrier:
        """What would reach the detector without gain control; worked out again only after a change."""
        if self._carrier is None:
            self._carrier = self.work_out_carrier()
            self._peak_volts = self._carrier.mean_peak_volts()
            self._worked_out_s = self.on_for_s
        return self._carrier

    def _detect(self, gain: float) -> float:
        if self._carrier is None:
            self.carrier()
        return self.detector.volts(self._troubles.limited(gain * self._peak_volts))

    # What an instrument sees.

    def sight(self, point: str, averaged_s: float) -> Sight:
        """Give what a meter point shows now to a meter that averages over `averaged_s`."""
        self._rest()
        if point == "detector":
            wander = self._slow_noise.gain * self._troubles.hum(self.on_for_s, averaged_s)
            return Sight(self._detector_volts * wander, self._detector_noise(averaged_s))
        if point == "agc line":
            loading = _METER_OHM / (_METER_OHM + self.control_line_ohm)
            return Sight(-self._control_volts * loading, 0.0)
        return self.other_sight(point)

    def _detector_noise(self, averaged_s: float) -> float:
        carrier = self.carrier().scaled(self.control_law.gain(self._control_volts))
        peak_volts = carrier.mean_peak_volts()
        flutter_volts = carrier.flutter_volts(self.detector_lag_s + averaged_s / 2)
        return slope(self.detector, peak_volts) * math.hypot(flutter_volts, self.wobble_volts(peak_volts))

    # What is to be heard.

    def scene(self) -> Scene:
        """Give what the loudspeaker gives now: the note, noise in the receiver's passband, and some hum."""
        self._rest()
        carrier = self.carrier().scaled(self.control_law.gain(self._control_volts))
        noise_hz, noise_shape = self.noise_spectrum()
        note_hz = self.note_hz()
        depth = 1.0 if self.signal is None or not self.signal.am_depth or self.beats() else self.signal.am_depth
        return Scene(
            note_hz=note_hz,
            note_peak=_LOUDNESS * depth * carrier.peak_volts if note_hz is not None else 0.0,
            noise_rms=_LOUDNESS * carrier.noise_volts,
            noise_hz=noise_hz,
            noise_shape=noise_shape,
            hum_peak=_HUM_PEAK,
        )

    def beats(self) -> bool:
        """True where a beat oscillator makes the note."""
        return False

    def note_hz(self) -> float | None:
        """The note: the source's own modulation, where it has any; receivers with a beat oscillator know another."""
        modulated = self.signal is not None and self.signal.am_depth > 0.0 and self.source_lead.to is not None
        return self.signal.am_hz if modulated and self.signal is not None else None

    def noise_spectrum(self) -> tuple[Floats, Floats]:
        """Where the noise is, and its relative amplitude there: half the bandwidth of a plain detector."""
        highest_hz = self.carrier().bandwidth_hz / 2
        return np.array([0.0, _LOWEST_NOTE_HZ, highest_hz, 1.5 * highest_hz]), np.array([0.0, 1.0, 1.0, 0.0])

    def probe_sight(self, probe: Detector, point: str) -> Sight:
        """What a diode probe at a grid shows."""
        peak_volts = math.sqrt(2) * self.grid_volts(point)
        return Sight(probe.volts(peak_volts), slope(probe, peak_volts) * self.wobble_volts(peak_volts))

    def wobble_volts(self, peak_volts: float) -> float:
        """How far a carrier of this peak voltage wanders from reading to reading, one sigma: valves are never still."""
        return peak_volts * self._conditions.wobble_db * math.log(10) / 20

    @abstractmethod
    def control_times(self) -> ControlTimes | None:
        """The gain control's time constants as the switch stands, or None where it is off."""

    @abstractmethod
    def drifted(self, since_s: float) -> bool:
        """True where an oscillator has moved noticeably since that time."""

    @abstractmethod
    def make_stages(self, point: str) -> list[Stage]:
        """Make the stages between a source point and the next, of the parts as they stand."""

    @abstractmethod
    def work_out_carrier(self) -> Carrier:
        """Follow the signal from the source's lead to the detector."""

    @abstractmethod
    def other_sight(self, point: str) -> Sight:
        """Give what the receiver's own further meter points show."""

    @abstractmethod
    def count(self, lead: Lead) -> float | None:
        """Give the frequency at the counter's point, pulled by the counter's lead, or None where there is none."""

    def describe(self) -> dict[str, object]:
        """Say what hands and leads find here."""
        return {
            "id": self.id,
            "name": self.name,
            "points": {
                "source": list(self.source_points),
                "meter": list(self.meter_points),
                "counter": list(self.counter_points),
            },
            "controls": [control.describe() for control in self.controls.values()],
            "adjusters": [adjuster.describe() for adjuster in self.adjusters.values()],
        }


def _named(parts: Mapping[str, _Part], name: str, kind: str) -> _Part:
    if name not in parts:
        raise HandError(f"This receiver has no {kind} {name!r}; it has {', '.join(parts)}.")
    return parts[name]


def _no_point(role: str, to: str, points: tuple[str, ...]) -> str:
    return f"The {role} cannot be connected to {to!r}; this receiver has {', '.join(points)}."
