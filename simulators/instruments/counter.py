"""The frequency counter."""

from simulators.clock import Clock
from simulators.instruments.delays import Delays
from simulators.instruments.readings import NOT_A_NUMBER, ReadingDevice
from simulators.physics.noise import NoiseStream
from simulators.scpi.device import Command
from simulators.scpi.parameters import HERTZ, SECONDS, AutoNumeric, Numeric
from simulators.workbench import View

_EXPECTED = Numeric(0.1, 225e6, 1e6, HERTZ)
_RESOLUTION = Numeric(1e-6, 1e6, 1.0, HERTZ)
_GATE = Numeric(0.001, 100.0, 0.1, SECONDS)
_EDGE_S = 10e-9
_OVERHEAD_S = 0.002


class FrequencyCounter(ReadingDevice):
    """A reciprocal counter: it times whole periods with edges good to 10 ns, so a longer gate resolves more."""

    def __init__(self, identity: str, clock: Clock, delays: Delays, view: View, noise: NoiseStream) -> None:
        super().__init__(identity, clock)
        self._view = view
        self._reading_s = delays.counter
        self._noise = noise
        self._gate_s = _GATE.default
        self.add_reading_commands()
        parameters = (AutoNumeric(_EXPECTED), AutoNumeric(_RESOLUTION))
        self.add("CONFigure[:SCALar][:VOLTage]:FREQuency", Command(self._configure, None, parameters, optional=True))
        self.add("CONFigure", Command(None, lambda: '"FREQ"'))
        self.add("MEASure[:SCALar][:VOLTage]:FREQuency", Command(None, self._measure, (), parameters))
        for name in ("APERture", "GATE:TIME"):
            self.add_setting(f"[SENSe:]FREQuency:{name}", _GATE, lambda: self._gate_s, self._set_gate)

    def reset(self) -> None:
        """Frequency, with a gate of a tenth of a second."""
        self._gate_s = _GATE.default
        self.reset_readings()

    def take_reading(self) -> float:
        """Open the gate and count. Nothing to count gives not-a-number."""
        duration_s = self._gate_s + _OVERHEAD_S if self._reading_s is None else self._reading_s
        before = self._view.count()
        if duration_s > 0.0:
            self.clock.wait(duration_s)
        after = self._view.count()
        if before is None or after is None or (before + after) * self._gate_s < 2:  # noqa: PLR2004 - one whole period
            return NOT_A_NUMBER
        counted_hz = (before + after) / 2
        step_hz = counted_hz * _EDGE_S / self._gate_s
        return round(counted_hz / step_hz + 0.4 * self._noise.next()) * step_hz

    def _configure(self, _expected: float | None = None, resolution_hz: float | None = None) -> None:
        if resolution_hz is not None:
            expected_hz = _expected or _EXPECTED.default
            self._gate_s = min(_GATE.maximum, max(_GATE.minimum, expected_hz * _EDGE_S / resolution_hz))
        self.forget()

    def _measure(self, expected: float | None = None, resolution_hz: float | None = None) -> str:
        self._configure(expected, resolution_hz)
        return self.measure()

    def _set_gate(self, gate_s: float) -> None:
        self._gate_s = gate_s
        self.forget()
