"""The Skerry 7 at work: its circuits as they stand, the way through them, its oscillators and its meter points."""

import math
from types import MappingProxyType

import numpy as np

from simulators.physics.agc import ControlTimes
from simulators.physics.audio import Floats
from simulators.physics.detectors import Carrier
from simulators.physics.networks import Coupling, Network, Tank
from simulators.physics.noise import thermal_volts
from simulators.physics.oscillators import Crystal, coil_oscillator_hz
from simulators.radios.chain import Amplifier, Circuit, Mixer, Stage, strongest, together
from simulators.radios.leads import Lead
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions, Radio, Sight
from simulators.radios.skerry import design
from simulators.radios.skerry.build import Unit, draw_adjusters, draw_unit, make_controls

_AUDIBLE_VOLTS = 1e-3
_HIGHEST_NOTE_HZ = 8000.0
_SPECTRUM_STEP_HZ = 5.0
_COUPLING_HZ = 80.0
_NOTICEABLE_PPM = 0.01


class Skerry(Radio):
    """One Skerry 7. Its stages are numbered by the points where the source may enter."""

    id = "skerry-7"
    name = "Skerry 7"
    source_points = ("antenna", "first mixer", "second mixer", "third mixer")
    meter_points = (
        "detector",
        "agc line",
        "mixer probe",
        "crystal oscillator test point",
    )
    counter_points = (
        "crystal oscillator",
        "tunable oscillator",
        "third oscillator",
        "beat oscillator",
        "audio",
    )
    first_leads = MappingProxyType({"source": "third mixer", "meter": "detector", "counter": "third oscillator"})
    detector = design.DETECTOR
    detector_lag_s = 0.012
    control_law = design.GAIN_CONTROL
    control_line_ohm = 1e6

    def __init__(self, draw: Draw, conditions: Conditions) -> None:
        self.unit: Unit = draw_unit(draw)
        super().__init__(make_controls(), draw_adjusters(draw), conditions)
        self.faults = (*self.unit.faults, *(f"seized, {a.name}" for a in self.adjusters.values() if a.seized))

    # The parts as they stand.

    def shaft_khz(self) -> float:
        """Where the dial's shaft is: what the pointer would say if it had never slipped."""
        return self.mark("dial") - self.position("dial pointer")

    def after_turn(self, name: str, moved: float) -> None:
        """A pointer that slides on its cord, and a knob that turns on its shaft, take their reading along."""
        control = {"dial pointer": "dial", "passband knob": "passband"}.get(name)
        if control is not None:
            knob = self.controls[control]
            knob.value = float(knob.value) + moved

    # Oscillators.

    def _warm_ppm(self, oscillator: str) -> float:
        return self.unit.warm_up[oscillator].ppm(self.on_for_s) + self.second_warm_up_ppm(self.on_for_s)

    def crystal(self, band: str) -> Crystal:
        """A band's crystal."""
        vigour = design.WEAK_CRYSTAL_VIGOUR if band in self.unit.weak_crystals else design.CRYSTAL_VIGOUR
        frequency_hz = design.CRYSTAL_HZ[band] * (1 + self.unit.crystal_ppm[band] * 1e-6)
        return Crystal(frequency_hz, vigour, design.CRYSTAL_CIRCUIT_QUALITY, pull_ppm=1.5)

    def crystal_circuit_hz(self, band: str) -> float:
        """Where a crystal's anode circuit is tuned by its slug."""
        factor = design.CRYSTAL_SLUG.factor(self.position(design.CRYSTAL_SLUGS[band]))
        return self.crystal(band).best_circuit_hz() / math.sqrt(factor * (1 + self.unit.crystal_circuit_error[band]))

    def crystal_hz(self, pick_up_ppm: float = 0.0) -> float | None:
        """Where the first oscillator runs, or None where it has stopped."""
        band = self.choice("band")
        ppm = self._warm_ppm("crystal") + pick_up_ppm
        return self.crystal(band).running_hz(self.crystal_circuit_hz(band), ppm)

    def test_point_volts(self, band: str) -> float:
        """The crystal oscillator's test point: its grid current, so the more negative the harder it runs."""
        return design.TEST_POINT_VOLTS * self.crystal(band).activity(self.crystal_circuit_hz(band))

    def tunable_hz(self, pick_up_ppm: float = 0.0, dial_khz: float | None = None) -> float:
        """Where the tunable oscillator runs, at this or another reading of the dial."""
        shaft_khz = self.shaft_khz() if dial_khz is None else dial_khz - self.position("dial pointer")
        coil_h = design.TUNABLE_OSCILLATOR_COIL_H
        meant_f = design.resonance_farads(design.TUNABLE_OSCILLATOR_TOP_HZ - shaft_khz * 1e3, coil_h)
        fixed_f = design.resonance_farads(design.TUNABLE_OSCILLATOR_TOP_HZ, coil_h)
        aged_f = fixed_f * self.unit.capacitor_error["tunable oscillator"]
        bend_f = self.unit.plate_bend_f * math.sin(2 * math.pi * shaft_khz / design.DIAL_KHZ)
        trim_f = design.OSCILLATOR_TRIMMER.farads(self.position("tunable oscillator trimmer"))
        factor = design.OSCILLATOR_SLUG.factor(self.position("tunable oscillator slug"))
        ppm = self._warm_ppm("tunable oscillator") + pick_up_ppm
        return coil_oscillator_hz(coil_h * factor, meant_f + aged_f + bend_f + trim_f, ppm)

    def third_hz(self, pick_up_ppm: float = 0.0) -> float:
        """Where the third oscillator runs."""
        return self._fixed_hz("third oscillator", design.THIRD_OSCILLATOR_HZ, pick_up_ppm)

    def beat_hz(self, pick_up_ppm: float = 0.0) -> float:
        """Where the beat oscillator would run, switched on or not."""
        return self._fixed_hz("beat oscillator", design.THIRD_IF_HZ, pick_up_ppm)

    def _fixed_hz(self, oscillator: str, meant_hz: float, pick_up_ppm: float) -> float:
        factor = design.OSCILLATOR_SLUG.factor(self.position(f"{oscillator} slug"))
        coil_h = design.FIXED_OSCILLATOR_COIL_H
        farads = design.resonance_farads(meant_hz, coil_h)
        return coil_oscillator_hz(coil_h * factor, farads, self._warm_ppm(oscillator) + pick_up_ppm)

    # Circuits.

    def filter_circuit(self) -> Circuit:
        """The 85 kHz filter at its present selectivity and passband setting."""
        cut = design.FILTER_DESIGNS[self.choice("selectivity")]
        tanks, couplings = design.filter_tanks(cut), design.filter_couplings(cut)
        siemens = 1 / design.peak_ohm(tanks, couplings, design.THIRD_IF_HZ)
        shaft = self.mark("passband") - self.position("passband knob")
        meant_hz = design.THIRD_IF_HZ + design.PASSBAND_SHIFT_HZ * shaft
        capacitance = (design.THIRD_IF_HZ / meant_hz) ** 2
        moved = [
            tank.changed(inductance=1 + error, capacitance=capacitance)
            for tank, error in zip(tanks, self.unit.sealed_coil_error, strict=True)
        ]
        return Circuit(Network(moved, couplings), siemens, 0, 3)

    def input_filter(self) -> Circuit:
        """The filter behind the second mixer, set in the factory and wide."""
        tanks, couplings = design.input_filter_tanks(), design.input_filter_couplings()
        siemens = 1 / design.peak_ohm(tanks, couplings, design.SECOND_IF_HZ)
        moved = [
            tank.changed(inductance=design.FILTER_SLUG.factor(self.position(slug)))
            for tank, slug in zip(tanks, ("L1", "L2", "L3", "L4"), strict=True)
        ]
        return Circuit(Network(moved, couplings), siemens, 0, 3)

    def can(self, name: str) -> Circuit:
        """One of the two 520 kHz cans."""
        tank = Tank.tuned(design.SECOND_IF_HZ, design.CAN_COIL_H, design.CAN_QUALITY)
        meant = [Coupling(0, 1, mutual=1 / design.CAN_QUALITY)]
        siemens = 1 / design.peak_ohm([tank, tank], meant, design.SECOND_IF_HZ)
        couplings = [Coupling(0, 1, mutual=self.unit.can_coupling[name] / design.CAN_QUALITY)]
        moved = [
            tank.changed(
                inductance=design.CAN_SLUG.factor(self.position(f"{name} {winding}")),
                capacitance=1 + self.unit.capacitor_error[f"{name} {winding}"],
            )
            for winding in ("primary", "secondary")
        ]
        return Circuit(Network(moved, couplings), siemens, 0, 1)

    def tunable_if_tank(self) -> Tank:
        """The tuned circuit between first and second mixer, ganged with the tunable oscillator."""
        meant = Tank.tuned(design.tunable_if_hz(self.shaft_khz()), design.TUNABLE_IF_COIL_H, design.TUNABLE_IF_QUALITY)
        fixed_f = design.resonance_farads(design.TUNABLE_IF_TOP_HZ, design.TUNABLE_IF_COIL_H)
        trim_f = design.TUNABLE_IF_TRIMMER.farads(self.position("tunable IF trimmer"))
        return meant.with_added(trim_f + fixed_f * self.unit.capacitor_error["tunable IF"])

    def tunable_if(self) -> Circuit:
        """The same circuit as a stage."""
        tank = self.tunable_if_tank()
        return Circuit(Network([tank]), design.TUNABLE_IF_GAIN * tank.loss_s, 0, 0)

    def preselector_tank(self, side: str, band: str, reading: float) -> Tank:
        """The antenna or the mixer circuit of the preselector, on a band and with the knob reading so."""
        mark = reading + self.unit.knob_offset_marks
        coil_h = design.PRESELECTOR_COIL_H[band]
        meant = Tank.tuned(design.preselector_hz(band, mark), coil_h, design.PRESELECTOR_QUALITY[band])
        aged_f = meant.capacitance_f * self.unit.preselector_error[f"{side} {band}"]
        trim_f = design.PRESELECTOR_TRIMMER.farads(self.position(f"preselector {side} trimmer"))
        return meant.with_added(aged_f + trim_f)

    def preselector_circuit(self, side: str) -> Circuit:
        """The same circuit as a stage, on the present band."""
        tank = self.preselector_tank(side, self.choice("band"), self.mark("preselector"))
        return Circuit(Network([tank]), math.sqrt(design.PRESELECTOR_GAIN) * tank.loss_s, 0, 0)

    # The way through.

    def make_stages(self, point: str) -> list[Stage]:
        """Make the stages between a source point and the next."""
        conversion, spurious = design.MIXER_CONVERSION, design.MIXER_SPURIOUS
        if point == "antenna":
            return [self.preselector_circuit("antenna"), self.preselector_circuit("mixer")]
        if point == "first mixer":
            return [Mixer(self.crystal_hz(), 1.0, conversion, spurious), self.tunable_if()]
        if point == "second mixer":
            cans = (self.can("T1"), self.can("T2"))
            mixer = Mixer(self.tunable_hz(), 1.0, conversion, spurious)
            return [mixer, self.input_filter(), cans[0], Amplifier(design.SECOND_IF_GAIN), cans[1]]
        mixer = Mixer(self.third_hz(), 1.0, conversion, spurious)
        return [mixer, self.filter_circuit(), Amplifier(design.THIRD_IF_GAIN)]

    def work_out_carrier(self) -> Carrier:
        """Follow the signal, and the noise of every grid behind its entry, to the detector."""
        peak_volts = math.sqrt(2) * together(self.tones_at_detector())
        bandwidth_hz = design.FILTER_DESIGNS[self.choice("selectivity")].nominal_width_hz
        return Carrier(peak_volts, self._noise_volts(bandwidth_hz), bandwidth_hz)

    def _noise_volts(self, bandwidth_hz: float) -> float:
        """The noise at the detector. A source's lead is a short circuit to the noise of all before it."""
        first_volts = thermal_volts(design.FIRST_MIXER_NOISE_OHM, bandwidth_hz)
        later_volts = thermal_volts(design.LATER_MIXER_NOISE_OHM, bandwidth_hz)
        third_gain = design.MIXER_CONVERSION * design.THIRD_IF_GAIN
        second_gain = design.MIXER_CONVERSION * design.SECOND_IF_GAIN * third_gain
        first_gain = design.MIXER_CONVERSION * design.TUNABLE_IF_GAIN * second_gain
        grids = (first_volts * first_gain, later_volts * second_gain, later_volts * design.THIRD_IF_GAIN)
        point = self.source_lead.to
        entry = 1 if point is None or self.signal is None else max(1, self.source_points.index(point))
        return math.hypot(*grids[entry - 1 :])

    # What instruments see.

    def control_times(self) -> ControlTimes | None:
        """By the AGC switch."""
        return design.CONTROL_TIMES.get(self.choice("agc"))

    def drifted(self, since_s: float) -> bool:
        """By the tunable oscillator, the quickest to wander."""
        warm_up = self.unit.warm_up["tunable oscillator"]
        moved_ppm = warm_up.ppm(since_s) - warm_up.ppm(self.on_for_s)
        moved_ppm += self.second_warm_up_ppm(since_s) - self.second_warm_up_ppm(self.on_for_s)
        return abs(moved_ppm) > _NOTICEABLE_PPM

    def other_sight(self, point: str) -> Sight:
        """The probe at the first mixer, and the crystal oscillator's test point."""
        if point == "mixer probe":
            return self.probe_sight(design.PROBE, "first mixer")
        return Sight(self.test_point_volts(self.choice("band")), 0.0)

    def count(self, lead: Lead) -> float | None:
        """Count an oscillator, pulled by the lead, or the note in the headphones."""
        if lead.to == "audio":
            return self.note_hz()
        pull = lead.pull()
        if lead.to == "crystal oscillator":
            return self.crystal_hz(-0.05 * pull)
        if lead.to == "tunable oscillator":
            return self.tunable_hz(-1.0 * pull)
        if lead.to == "third oscillator":
            return self.third_hz(-5.0 * pull)
        return self.beat_hz(-8.0 * pull) if self.choice("beat oscillator") == "on" else None

    def beats(self) -> bool:
        """By its switch."""
        return self.choice("beat oscillator") == "on"

    def noise_spectrum(self) -> tuple[Floats, Floats]:
        """The filter as the beat oscillator folds it down: what lies above and what lies below it, by power."""
        if not self.beats():
            return super().noise_spectrum()
        audio_hz = np.arange(0.0, _HIGHEST_NOTE_HZ, _SPECTRUM_STEP_HZ)
        passes, beat_hz = self.filter_circuit(), self.beat_hz()
        above, below = passes.gains(beat_hz + audio_hz), passes.gains(np.maximum(beat_hz - audio_hz, 0.0))
        lows = audio_hz / np.hypot(audio_hz, _COUPLING_HZ)  # the coupling capacitors of the audio stages
        return audio_hz, np.hypot(above, below) * lows

    def note_hz(self) -> float | None:
        """The beat of the strongest tone with the beat oscillator; else the source's own modulation."""
        frequency_hz, volts = strongest(self.tones_at_detector())
        if volts < max(_AUDIBLE_VOLTS, self.carrier().noise_volts):
            return None
        if self.choice("beat oscillator") == "on":
            note_hz = abs(frequency_hz - self.beat_hz())
        elif self.signal is not None and self.signal.am_depth > 0.0:
            note_hz = self.signal.am_hz
        else:
            return None
        return note_hz if note_hz <= _HIGHEST_NOTE_HZ else None
