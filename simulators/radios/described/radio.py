"""A described receiver at work: its circuits as they stand, the way through them, its oscillators and its points."""

import math
from types import MappingProxyType
from typing import Final

import numpy as np

from simulators.physics.agc import ControlTimes, GainControl
from simulators.physics.detectors import Carrier, Diode
from simulators.physics.networks import Network, Tank
from simulators.physics.noise import thermal_volts
from simulators.physics.oscillators import Crystal
from simulators.radios.chain import Amplifier, Circuit, Mixer, Stage, follow, strongest, together
from simulators.radios.described.build import Unit, draw_adjusters, draw_unit, make_controls, trim_share
from simulators.radios.described.paper import HZ, Paper, between
from simulators.radios.described.way import ladders_of, way_of
from simulators.radios.leads import Lead, Signal
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions, Radio, Sight

DETECTOR: Final = Diode(knee_volts=0.05, ceiling_volts=45.0)
PROBE: Final = Diode(knee_volts=0.4, ceiling_volts=60.0)
GAIN_CONTROL: Final = GainControl(
    delay_volts=0.0, volts_per_volt=1.0, ceiling_volts=30.0, db_per_volt=5.0, softening=0.04
)
_QUICK, _SLOW = ControlTimes(0.06, 0.06), ControlTimes(0.06, 0.4)
_GAIN_SWITCHES = ("agc", "avc", "gain control")
_GRID_OHM = 10e3
_SPURIOUS = 0.002
_AUDIBLE_VOLTS = 1e-3
_HIGHEST_NOTE_HZ = 8000.0
_TEST_POINT_VOLTS = -6.0
_NOTICEABLE_PPM = 0.05
_COIL_H = 1e-4
_TURN_OF_WIDTH = 0.5
_ALL = "all"


class Described(Radio):
    """One unit."""

    detector = DETECTOR
    detector_lag_s = 0.01
    control_law = GAIN_CONTROL
    control_line_ohm = 1e6

    def __init__(self, paper: Paper, draw: Draw, conditions: Conditions) -> None:
        self.paper = paper
        self.id, self.name = paper.id, paper.name
        self.source_points = tuple(paper.table("source_point"))
        self.meter_points = tuple(paper.table("meter_point"))
        self.counter_points = tuple(paper.table("counter_point"))
        levels = [name for name, point in paper.table("meter_point").items() if point["reads"] == "detector"]
        self.first_leads = MappingProxyType(
            {"source": self.source_points[-1], "meter": (levels or list(self.meter_points))[0]}
        )
        self.unit: Unit = draw_unit(paper, draw)
        self.ladders = ladders_of(paper)
        self.way = way_of(paper, self.ladders)
        self._bottom = next(iter(paper.tables["band"]))
        super().__init__(make_controls(paper), draw_adjusters(paper, self.unit, draw), conditions)
        self.faults = tuple(f"seized, {part.name}" for part in self.adjusters.values() if part.seized)

    # The parts as they stand.

    def band(self) -> str:
        """The band that is switched on."""
        switch = self.paper.tables.get("band_control")
        return self._bottom if switch is None else self.choice(switch)

    def travel(self, dial_khz: float | None = None) -> float:
        """Where the dial's shaft is, from 0 to 1 over the band; the pointer may have slipped."""
        reading = self.mark(self.paper.tables["dial"]["control"]) if dial_khz is None else dial_khz
        slipped = sum(self.position(name) for name in self.paper.adjusters("dial"))
        return self.paper.travel(self.band(), reading - slipped)

    def off(self, name: str) -> float:
        """How many turns an adjuster stands beyond its best, the way that lowers the frequency."""
        sense = -1.0 if self.paper.table("adjuster")[name].get("clockwise") == "raises" else 1.0
        return sense * (self.position(name) - self.unit.best[name])

    def after_turn(self, name: str, moved: float) -> None:
        """A pointer that slides on its cord, and a knob that turns on its shaft, take their reading along."""
        entry = self.paper.table("adjuster")[name]
        if entry["kind"] == "dial pointer":
            control = self.paper.tables["dial"]["control"]
        elif entry["kind"] == "knob on shaft" and entry["moves"] in ("passband_control", "preselector"):
            control = self.paper.tables[entry["moves"]]["control"]
        else:
            return
        knob = self.controls[control]
        knob.value = float(knob.value) + moved

    def tuned_hz(self, names: tuple[str, ...], meant_hz: float, top_hz: float, share: float) -> float:
        """Where a coil and a capacitor resonate that are meant to give `meant_hz`, with these adjusters as they stand.

        A slug changes the coil, and so every frequency alike; a trimmer adds to the capacitor, which counts most where
        that is least; a padder stands in series with it, and counts most where it is greatest. `share` is of the
        frequency, for one turn at the end where the adjuster counts most; `top_hz` is the highest frequency meant.
        """
        coil, meant = 1.0, (top_hz / meant_hz) ** 2
        capacitor = meant
        for name in names:
            kind, moved = self.paper.table("adjuster")[name]["kind"], 2 * share * self.off(name)
            if kind == "trimmer":
                capacitor += moved
            elif kind == "padder":
                capacitor *= 1 + moved * meant / (1 + meant)
            else:
                coil *= 1 + moved
        return top_hz / math.sqrt(max(0.05, coil) * max(0.05 * meant, capacitor))

    # Oscillators.

    def _ppm(self, oscillator: str) -> float:
        return self.unit.warm_up[oscillator].ppm(self.on_for_s) + self.second_warm_up_ppm(self.on_for_s)

    def oscillator_hz(self, key: str, pull_ppm: float = 0.0, dial_khz: float | None = None) -> float | None:
        """Where a mixer's oscillator runs, at this or another reading of the dial; None where it has stopped."""
        paper, band = self.paper, self.band()
        kind, ends = paper.conversion(key)["oscillator_kind"], paper.oscillator_ends_hz(key, band)
        names = paper.adjusters(f"conversion.{key}", band)
        meant_hz, shift = between(ends, self.travel(dial_khz)), 1 + (self._ppm(key) + pull_ppm) * 1e-6
        if kind == "crystal":
            crystal = self.crystal(key, band)
            if paper.tested(f"conversion.{key}"):
                return crystal.running_hz(self.crystal_circuit_hz(key, band), self._ppm(key) + 0.05 * pull_ppm)
            share = 0.5 * paper.limit("oscillator_hz", 100.0) / ends[0]
            return self.tuned_hz(names, crystal.frequency_hz, crystal.frequency_hz, share) * shift
        share = trim_share(paper, max(ends)) if kind == "tunable" else 0.25 * paper.narrowest_hz() / ends[0]
        return self.tuned_hz(names, meant_hz, max(ends), share) * shift

    def crystal(self, key: str, band: str) -> Crystal:
        """A band's crystal."""
        meant_hz = self.paper.oscillator_ends_hz(key, band)[0]
        return Crystal(meant_hz * (1 + self.unit.crystal_ppm[f"{key} {band}"] * 1e-6), 3.0, 25.0, pull_ppm=1.0)

    def crystal_circuit_hz(self, key: str, band: str) -> float:
        """Where a crystal's anode circuit is tuned by its adjusters."""
        names = self.paper.adjusters(f"conversion.{key}", band)
        best_hz = self.crystal(key, band).best_circuit_hz()
        return self.tuned_hz(names, best_hz, best_hz, 0.005)

    def beat_hz(self, pull_ppm: float = 0.0) -> float:
        """Where the beat oscillator would run, switched on or not."""
        entry = self.paper.tables["beat_oscillator"]
        meant_hz, width_hz = entry["centre_khz"] * HZ, self.paper.narrowest_hz()
        share = 0.2 * width_hz / meant_hz
        names = self.paper.adjusters("beat_oscillator")
        return self.tuned_hz(names, meant_hz, meant_hz, share) * (1 + (self._ppm("beat_oscillator") + pull_ppm) * 1e-6)

    # Circuits.

    def fixed_circuit(self, name: str) -> Circuit:
        """A filter of a fixed IF as it stands, or what is sealed in one."""
        ladder = self.ladders[self._ladder_key(name)]
        turn = _TURN_OF_WIDTH * ladder.width_hz / ladder.centre_hz
        coils = [
            1 + self.unit.sealed_share[place] * ladder.width_hz / ladder.centre_hz for place in range(len(ladder.tanks))
        ]
        for place, adjuster in enumerate(self.paper.adjusters(f"filter.{name}")):
            coils[place % len(coils)] = 1 + turn * math.tanh(self.off(adjuster) / 8.0) * 8.0
        return ladder.stage(coils, 1 + self._shift_hz(name) / ladder.centre_hz)

    def _ladder_key(self, name: str) -> str:
        """The ladder as its width control stands."""
        intermediate = self.intermediate_of(name)
        control = self.paper.tables["if"][intermediate].get("width_control")
        switched = f"{name} {self.choice(control)}" if control else name
        return switched if switched in self.ladders else name

    def intermediate_of(self, name: str) -> str:
        """The IF a filter, or what is sealed, stands in."""
        return str(self.paper.table("filter")[name]["if"]) if name in self.paper.table("filter") else name

    def _shift_hz(self, name: str) -> float:
        """How far the passband control has shifted a filter."""
        control = self.paper.tables.get("passband_control")
        if control is None or control["if"] != self.intermediate_of(name):
            return 0.0
        scale = self.paper.tables["control"][control["control"]]
        half = (float(scale["high"]) - float(scale["low"])) / 2
        slipped = sum(self.position(each) for each in self.paper.adjusters("passband_control"))
        shaft = self.mark(control["control"]) - slipped - (float(scale["high"]) + float(scale["low"])) / 2
        return float(control["shift_khz"]) * HZ * shaft / half

    def moving_tank(self, name: str) -> Tank:
        """The circuit of an IF that moves with the dial."""
        intermediate = self.intermediate_of(name)
        ends = self.paper.if_ends_hz(intermediate)
        meant_hz = between(ends, self.travel())
        width_hz = self.paper.table("filter").get(name, {}).get("width_khz", 0.0) * HZ
        width_hz = width_hz or self.paper.widest_hz(intermediate)
        names = self.paper.adjusters(f"filter.{name}")
        at_hz = self.tuned_hz(names, meant_hz, max(ends), 0.3 * width_hz / max(ends))
        return Tank.tuned(at_hz, _COIL_H, meant_hz / width_hz)

    def front_tank(self, place: int) -> Tank:
        """One of the circuits between antenna and first mixer, on the present band."""
        paper, band = self.paper, self.band()
        quality = paper.quality(band)
        meant_hz = (
            self._knob_hz(band)
            if paper.tables["preselector"]["tuned_by"] == "knob"
            else (paper.signal_hz(band, self.travel()))
        )
        circuits = int(paper.tables["preselector"]["circuits"])
        mine = tuple(
            name
            for kind in ("slug", "trimmer", "padder")
            for number, name in enumerate(self._front_adjusters(kind, band))
            if number % circuits == place
        )
        at_hz = self.tuned_hz(mine, meant_hz, paper.ends_hz(band)[1], 0.3 / quality)
        return Tank.tuned(at_hz, _COIL_H, quality)

    def _front_adjusters(self, kind: str, band: str) -> list[str]:
        every = self.paper.table("adjuster")
        return [name for name in self.paper.adjusters("preselector", band) if every[name]["kind"] == kind]

    def _knob_hz(self, band: str) -> float:
        """Where the knob tunes: through the three marks of the file, bent evenly between them."""
        entry = self.paper.tables["preselector"]
        slipped = sum(
            self.position(name)
            for name in self.paper.adjusters("preselector")
            if self.paper.table("adjuster")[name]["kind"] == "knob on shaft"
        )
        low_hz, high_hz = self.paper.ends_hz(band)
        marks = entry["knob_marks"][band]
        bend = np.polyfit(marks, [low_hz, (low_hz + high_hz) / 2, high_hz], 2)
        return max(0.2 * low_hz, float(np.polyval(bend, self.mark(entry["control"]) - slipped)))

    # The way through.

    def make_stages(self, point: str) -> list[Stage]:
        """Make every stage, whatever the point; where each point enters is kept beside."""
        del point
        return [self._stage(*item) for item in self.way.items]

    def _stage(self, what: str, name: str) -> Stage:
        if what == "mixer":
            return Mixer(self.oscillator_hz(name), 1.0, 1.0, _SPURIOUS)
        if what == "amplifier":
            return Amplifier(self.way.gains[name])
        if what == "fixed":
            return self.fixed_circuit(name)
        tank = self.front_tank(int(name)) if what == "front" else self.moving_tank(name)
        return Circuit(Network([tank]), tank.loss_s, 0, 0)

    def stages_from(self, point: str) -> list[Stage]:
        """The stages from a source point to the detector."""
        return self.stages_behind(_ALL)[self.way.entries[point] :]

    def tones_at_entry(self, signal: Signal) -> list[tuple[float, float]]:
        """What the source's lead brings: all of it at the antenna, less through a capacitor."""
        share = (
            1.0
            if self.way.entries[self.source_lead.to or ""] == 0
            else self.source_lead.grid_share(signal.frequency_hz)
        )
        return [(signal.frequency_hz, signal.emf_volts() * share)]

    def grid_volts(self, point: str) -> float:
        """The rms voltage at the first mixer, where a probe goes."""
        del point
        entry, to = self.source_lead.to, self._first_mixer()
        if self.signal is None or entry is None or self.way.entries[entry] > to:
            return 0.0
        stages = self.stages_behind(_ALL)[self.way.entries[entry] : to]
        return together(follow(self.tones_at_entry(self.signal), stages))

    def _first_mixer(self) -> int:
        return next(at for at, item in enumerate(self.way.items) if item[0] == "mixer")

    def work_out_carrier(self) -> Carrier:
        """Follow the signal, and the noise of the first grid behind its entry, to the detector."""
        entry = self.source_lead.to
        begins = max(self._first_mixer(), self.way.entries[entry] if entry and self.signal is not None else 0)
        gain = math.prod(self.way.gains[name] for what, name in self.way.items[begins:] if what == "amplifier")
        width_hz = min(self.paper.width_hz(key, self._width_choice(key)) for key in self.paper.ifs)
        peak_volts = math.sqrt(2) * together(self.tones_at_detector())
        return Carrier(peak_volts, gain * thermal_volts(_GRID_OHM, width_hz), width_hz)

    def _width_choice(self, key: str) -> str | None:
        control = self.paper.tables["if"][key].get("width_control")
        return self.choice(control) if control else None

    # What instruments see.

    def control_times(self) -> ControlTimes | None:
        """By the switch of the gain control, where there is one; without a switch and without a line there is none."""
        switch = next((name for name in self.controls if any(word in name.lower() for word in _GAIN_SWITCHES)), None)
        if switch is not None:
            at = str(self.controls[switch].value)
            return None if at == "off" else _SLOW if at == "slow" else _QUICK
        has_line = any(point["reads"] == "agc line" for point in self.paper.table("meter_point").values())
        return _QUICK if has_line else None

    def drifted(self, since_s: float) -> bool:
        """By whichever oscillator wanders most."""
        moved = [abs(each.ppm(since_s) - each.ppm(self.on_for_s)) for each in self.unit.warm_up.values()]
        second = self.second_warm_up_ppm(since_s) - self.second_warm_up_ppm(self.on_for_s)
        return max(moved) + abs(second) > _NOTICEABLE_PPM

    def sight(self, point: str, averaged_s: float) -> Sight:
        """Give what a meter point shows, by what the file says it reads."""
        reads = self.paper.table("meter_point")[point]["reads"]
        return super().sight(reads if reads in ("detector", "agc line") else point, averaged_s)

    def other_sight(self, point: str) -> Sight:
        """A probe at the first mixer, or an oscillator's test point."""
        entry = self.paper.table("meter_point")[point]
        if entry["reads"] == "rf probe":
            return self.probe_sight(PROBE, point)
        key, band = str(entry["at"]).removeprefix("conversion."), self.band()
        if self.paper.conversion(key)["oscillator_kind"] != "crystal":
            return Sight(_TEST_POINT_VOLTS, 0.0)
        return Sight(_TEST_POINT_VOLTS * self.crystal(key, band).activity(self.crystal_circuit_hz(key, band)), 0.0)

    def count(self, lead: Lead) -> float | None:
        """Count an oscillator, pulled by the lead, or the note in the headphones."""
        counts = str(self.paper.table("counter_point")[lead.to or ""]["counts"])
        if counts == "audio":
            return self.note_hz()
        if counts == "beat_oscillator":
            return self.beat_hz(-5.0 * lead.pull()) if self.beats() else None
        return self.oscillator_hz(counts.removeprefix("conversion."), -1.0 * lead.pull())

    def beats(self) -> bool:
        """By its switch, where it has one."""
        beat = self.paper.tables.get("beat_oscillator")
        if beat is None:
            return False
        return "control" not in beat or self.choice(beat["control"]) == "on"

    def note_hz(self) -> float | None:
        """The beat of the strongest tone with the beat oscillator; else the source's own modulation."""
        frequency_hz, volts = strongest(self.tones_at_detector())
        if volts < max(_AUDIBLE_VOLTS, self.carrier().noise_volts):
            return None
        if self.beats():
            note_hz = abs(frequency_hz - self.beat_hz())
            return note_hz if note_hz <= _HIGHEST_NOTE_HZ else None
        return super().note_hz()
