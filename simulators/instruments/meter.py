"""The multimeter."""

import math
from dataclasses import dataclass

from simulators.clock import Clock
from simulators.instruments.delays import Delays
from simulators.instruments.readings import OVERLOAD, ReadingDevice
from simulators.physics.noise import NoiseStream
from simulators.scpi.device import Command, scientific
from simulators.scpi.parameters import PLAIN, VOLTS, AutoNumeric, Choices, Numeric, Switch, Text
from simulators.workbench import View

_RANGE = Numeric(0.1, 1000.0, 10.0, VOLTS)
_RESOLUTION = Numeric(1e-9, 10.0, 1e-6, VOLTS)
_CYCLES = Numeric(0.02, 100.0, 1.0, PLAIN)
_RANGES_V = (0.1, 1.0, 10.0, 100.0, 1000.0)
_LINE_S = 0.02
_OVERHEAD_S = 0.002
_OVER_RANGE = 1.2
_NOISE_SHARE = 2e-5
_NOISE_FLOOR_V = 1e-6
_MIDDLE_WEIGHT, _END_WEIGHT = 4 / 6, 1 / 6


@dataclass(frozen=True, slots=True)
class MeterNoise:
    """The stream a reading's noise is drawn from, and how much of the meter's usual own noise there is."""

    stream: NoiseStream
    own_share: float = 1.0


class Multimeter(ReadingDevice):
    """A multimeter: direct and alternating volts, integration over power-line cycles, fixed ranges or automatic."""

    def __init__(self, identity: str, clock: Clock, delays: Delays, view: View, noise: MeterNoise) -> None:
        super().__init__(identity, clock)
        self._view = view
        self._reading_s = delays.meter
        self._noise = noise.stream
        self._own_share = noise.own_share
        self._alternating = False
        self._range_v: float | None = None
        self._cycles = _CYCLES.default
        self.add_reading_commands()
        self._add_functions()
        self._add_settings()

    def reset(self) -> None:
        """Direct volts, automatic range, one power-line cycle."""
        self._configure(alternating=False, range_v=None)
        self._cycles = _CYCLES.default
        self.reset_readings()

    def take_reading(self) -> float:
        """Integrate what the lead shows over the reading's time."""
        averaged_s = self._cycles * _LINE_S
        duration_s = averaged_s + _OVERHEAD_S if self._reading_s is None else self._reading_s
        began_s = self.clock.now_s()
        seen = self._view.sight(averaged_s)
        volts = seen.volts
        if duration_s > 0.0:
            volts *= _END_WEIGHT
            self._wait_until(began_s + duration_s / 2)
            volts += _MIDDLE_WEIGHT * self._view.sight(averaged_s).volts
            self._wait_until(began_s + duration_s)
            seen = self._view.sight(averaged_s)
            volts += _END_WEIGHT * seen.volts
        # What reaches the leads here is rectified already: a meter set to alternating volts sees its wander only.
        shown = abs(seen.noise_volts) if self._alternating else volts + seen.noise_volts * self._noise.next()
        return self._ranged(shown)

    def _wait_until(self, moment_s: float) -> None:
        """Wait for a moment, so that what was worked out meanwhile costs the reading no time."""
        self.clock.wait(moment_s - self.clock.now_s())

    def _ranged(self, volts: float) -> float:
        range_v = self._range_v or next((step for step in _RANGES_V if abs(volts) <= step * _OVER_RANGE), 1000.0)
        if abs(volts) > _OVER_RANGE * range_v:
            return OVERLOAD if volts > 0.0 else -OVERLOAD
        own_noise_v = self._own_share * (_NOISE_SHARE * abs(volts) + _NOISE_FLOOR_V * max(1.0, range_v))
        return volts + own_noise_v * self._noise.next() / math.sqrt(max(1.0, self._cycles))

    def _configure(self, *, alternating: bool, range_v: float | None) -> None:
        self._alternating = alternating
        self._range_v = range_v
        self.forget()

    def _add_functions(self) -> None:
        parameters = (AutoNumeric(_RANGE), AutoNumeric(_RESOLUTION))
        for name, alternating in (("[:DC]", False), (":AC", True)):

            def configure(
                range_v: float | None = None, _resolution: float | None = None, *, chosen: bool = alternating
            ) -> None:
                self._configure(alternating=chosen, range_v=range_v)

            def measure(
                range_v: float | None = None, _resolution: float | None = None, *, chosen: bool = alternating
            ) -> str:
                self._configure(alternating=chosen, range_v=range_v)
                return self.measure()

            self.add(f"CONFigure[:SCALar][:VOLTage]{name}", Command(configure, None, parameters, optional=True))
            self.add(f"MEASure[:SCALar][:VOLTage]{name}", Command(None, measure, (), parameters))
        self.add("CONFigure", Command(lambda: self._configure(alternating=False, range_v=None), self._configuration))

    def _add_settings(self) -> None:
        self.add_setting("[SENSe:]VOLTage[:DC]:NPLCycles", _CYCLES, lambda: self._cycles, self._set_cycles)
        for kind in ("[:DC]", ":AC"):
            self.add_setting(
                f"[SENSe:]VOLTage{kind}:RANGe[:UPPer]", _RANGE, lambda: self._range_v or 1000.0, self._set_range
            )
            self.add(
                f"[SENSe:]VOLTage{kind}:RANGe:AUTO",
                Command(self._set_auto_range, lambda: str(int(self._range_v is None)), (Switch(),)),
            )
        self.add("[SENSe:]FUNCtion[:ON]", Command(self._set_function, self._function, (Text(),)))
        self.add("TRIGger[:SEQuence]:SOURce", Command(lambda _: None, lambda: "IMM", (Choices(("IMMediate",)),)))

    def _set_cycles(self, cycles: float) -> None:
        self._cycles = cycles
        self.forget()

    def _set_range(self, range_v: float) -> None:
        self._range_v = next(step for step in _RANGES_V if range_v <= step)
        self.forget()

    def _set_auto_range(self, on: bool) -> None:
        self._range_v = None if on else self._range_v or 1000.0
        self.forget()

    def _set_function(self, name: str) -> None:
        chosen = Choices(("VOLTage", "VOLTage:DC", "VOLTage:AC")).parse(name)
        self._configure(alternating=chosen == "VOLT:AC", range_v=self._range_v)

    def _function(self) -> str:
        return '"VOLT:AC"' if self._alternating else '"VOLT"'

    def _configuration(self) -> str:
        name = "VOLT:AC" if self._alternating else "VOLT"
        return f'"{name} {scientific(self._range_v or 1000.0)},{scientific(_RESOLUTION.default)}"'
