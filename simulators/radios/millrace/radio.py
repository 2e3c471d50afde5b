"""The Millrace 5 at work: its circuits as they stand, the way through them, its oscillator and its meter points."""

import math
from types import MappingProxyType

from simulators.physics.agc import ControlTimes
from simulators.physics.detectors import Carrier
from simulators.physics.networks import Coupling, Network, Tank
from simulators.physics.noise import thermal_volts
from simulators.physics.tracking import PaddedCircuit
from simulators.radios.chain import Amplifier, Circuit, Mixer, Stage, together
from simulators.radios.leads import Lead
from simulators.radios.millrace import design
from simulators.radios.millrace.build import Unit, draw_adjusters, draw_unit, make_controls
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions, Radio, Sight

_NOTICEABLE_PPM = 0.1
_PICK_UP_PPM = -20.0


class Millrace(Radio):
    """One Millrace 5."""

    id = "millrace-5"
    name = "Millrace 5"
    source_points = ("antenna", "converter grid", "IF grid")
    meter_points = ("detector", "agc line", "mixer probe")
    counter_points = ("oscillator",)
    first_leads = MappingProxyType({"source": "converter grid", "meter": "detector", "counter": "oscillator"})
    detector = design.DETECTOR
    detector_lag_s = 0.01
    control_law = design.GAIN_CONTROL
    control_line_ohm = 1e6

    def __init__(self, draw: Draw, conditions: Conditions) -> None:
        self.unit: Unit = draw_unit(draw)
        self.scale: PaddedCircuit = design.oscillator_circuit()
        super().__init__(make_controls(), draw_adjusters(draw), conditions)
        self.faults = (*self.unit.faults, *(f"seized, {a.name}" for a in self.adjusters.values() if a.seized))

    def after_turn(self, name: str, moved: float) -> None:
        """The pointer slides on its cord: the reading moves, the gang does not."""
        if name == "dial pointer":
            knob = self.controls["dial"]
            knob.value = float(knob.value) + moved

    def gang_farads(self, dial_khz: float | None = None) -> float:
        """Where the gang is: the scale was printed for the oscillator as designed, and the pointer may have slipped."""
        reading_khz = self.mark("dial") if dial_khz is None else dial_khz
        shaft_khz = reading_khz - self.position("dial pointer")
        return self.scale.gang_farads_for(shaft_khz * 1e3 + design.IF_HZ)

    def oscillator_hz(self, pick_up_ppm: float = 0.0, dial_khz: float | None = None) -> float:
        """Where the oscillator runs."""
        aged = PaddedCircuit(
            self.scale.inductance_h * (1 + self.unit.oscillator_coil_error),
            self.scale.padder_f * (1 + design.PADDER_SHARE_PER_TURN * self.position("oscillator padder")),
            self.scale.trimmer_f
            + self.unit.oscillator_stray_f
            + design.TRIMMER.farads(self.position("oscillator trimmer")),
        )
        ppm = self.unit.warm_up.ppm(self.on_for_s) + self.second_warm_up_ppm(self.on_for_s) + pick_up_ppm
        return aged.resonance_hz(self.gang_farads(dial_khz)) * (1 + ppm * 1e-6)

    def _bare_cable(self) -> bool:
        """True where the source's cable is clipped to the antenna without the dummy antenna's capacitor."""
        return self.source_lead.through is not None and self.source_lead.series_farads() is None

    def signal_tank(self) -> Tank:
        """The antenna circuit with the gang where it is. A bare cable in place of the dummy antenna damps it."""
        farads = (
            self.gang_farads()
            + design.SIGNAL_CIRCUIT.trimmer_f
            + self.unit.signal_stray_f
            + design.TRIMMER.farads(self.position("antenna trimmer"))
        )
        coil_h = design.SIGNAL_CIRCUIT.inductance_h * (1 + self.unit.signal_coil_error)
        quality = design.SIGNAL_QUALITY
        if self._bare_cable():
            farads += design.BARE_CABLE_FARADS
            quality /= design.BARE_CABLE_DAMPING
        return Tank.tuned(1 / (2 * math.pi * math.sqrt(coil_h * farads)), coil_h, quality)

    def signal_circuit(self) -> Circuit:
        """The same circuit as a stage."""
        tank = self.signal_tank()
        return Circuit(Network([tank]), design.ANTENNA_GAIN * tank.loss_s, 0, 0)

    def can(self, name: str) -> Circuit:
        """One of the two 455 kHz cans."""
        tank = Tank.tuned(design.IF_HZ, design.CAN_COIL_H, design.CAN_QUALITY)
        meant = Network([tank, tank], [Coupling(0, 1, mutual=1 / design.CAN_QUALITY)])
        siemens = 1 / abs(meant.transfer_ohm(design.IF_HZ, 0, 1))
        moved = [
            tank.changed(
                inductance=design.CAN_SLUG.factor(self.position(f"{name} {winding}")),
                capacitance=1 + self.unit.capacitor_error[f"{name} {winding}"],
            )
            for winding in ("primary", "secondary")
        ]
        coupling = Coupling(0, 1, mutual=self.unit.can_coupling[name] / design.CAN_QUALITY)
        return Circuit(Network(moved, [coupling]), siemens, 0, 1)

    def make_stages(self, point: str) -> list[Stage]:
        """Make the stages between a source point and the next."""
        if point == "antenna":
            return [self.signal_circuit()]
        if point == "converter grid":
            mixer = Mixer(
                self.oscillator_hz(), design.CONVERTER_STRAIGHT, design.CONVERTER_CONVERSION, design.CONVERTER_SPURIOUS
            )
            return [mixer, self.can("can 1"), Amplifier(design.CONVERTER_GAIN)]
        return [self.can("can 2"), Amplifier(design.IF_GAIN)]

    def work_out_carrier(self) -> Carrier:
        """Follow the signal, and the noise of every grid behind its entry, to the detector."""
        peak_volts = math.sqrt(2) * together(self.tones_at_detector())
        grid_volts = thermal_volts(design.GRID_NOISE_OHM, design.NOMINAL_WIDTH_HZ)
        from_if = grid_volts * design.IF_GAIN
        from_converter = from_if * design.CONVERTER_GAIN * design.CONVERTER_CONVERSION
        at_if_grid = self.signal is not None and self.source_lead.to == "IF grid"
        noise_volts = from_if if at_if_grid else math.hypot(from_if, from_converter)
        return Carrier(peak_volts, noise_volts, design.NOMINAL_WIDTH_HZ)

    def control_times(self) -> ControlTimes | None:
        """This receiver's AGC cannot be switched off."""
        return design.CONTROL_TIMES

    def drifted(self, since_s: float) -> bool:
        """By its one oscillator."""
        moved_ppm = self.unit.warm_up.ppm(since_s) - self.unit.warm_up.ppm(self.on_for_s)
        moved_ppm += self.second_warm_up_ppm(since_s) - self.second_warm_up_ppm(self.on_for_s)
        return abs(moved_ppm) > _NOTICEABLE_PPM

    def other_sight(self, point: str) -> Sight:
        """The probe at the converter's signal grid."""
        del point  # it has no other
        return self.probe_sight(design.PROBE, "converter grid")

    def count(self, lead: Lead) -> float | None:
        """Count the oscillator, pulled by the lead."""
        pull = lead.pull()
        return self.oscillator_hz(_PICK_UP_PPM * pull) if lead.to == "oscillator" else None
