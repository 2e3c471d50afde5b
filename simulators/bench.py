"""The whole practice bench: three instruments and the hands, each on its own port."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from simulators.clock import SteppedClock, WallClock
from simulators.faults import FaultPlan
from simulators.hands import Hands
from simulators.instruments.counter import FrequencyCounter
from simulators.instruments.delays import Delays
from simulators.instruments.meter import MeterNoise, Multimeter
from simulators.instruments.sound import SoundSocket
from simulators.instruments.source import SignalSource
from simulators.physics.noise import NoiseStream
from simulators.scpi.device import Device
from simulators.wire import LineServer, Reply
from simulators.workbench import BenchSettings, Workbench

_VERSION = "1.0"
_LATE_S = 3.0
_ROLES = ("source", "meter", "counter")


@dataclass(frozen=True, slots=True)
class BenchOptions:
    """What a bench is made of.

    Attributes:
        settings: what stands on it.
        delays: how long the instruments take.
        stepped_time: delays are counted but never waited for.
        speed: how many times as fast as real time everything on the bench goes, warm-up, lags and delays alike.
        late_s: how late a late reply is.
        quiet_meter: the meter adds no noise of its own to what reaches it.
    """

    settings: BenchSettings
    delays: Delays = field(default_factory=Delays)
    stepped_time: bool = False
    speed: float = 1.0
    late_s: float = _LATE_S
    quiet_meter: bool = False


class _ScpiSession:
    """One client of an instrument. Clients share the instrument and its queues, as on a real one."""

    def __init__(self, device: Device, faults: FaultPlan, before: Callable[[], None]) -> None:
        self._device = device
        self._faults = faults
        self._before = before

    def answer(self, line: bytes) -> Reply | None:
        """Carry out one message and spoil its reply where a fault is due."""
        self._before()
        text = self._device.execute(line.decode("ascii", "replace").rstrip("\r"))
        return None if text is None else self._faults.treat(text)

    def overrun(self) -> None:
        """Tell the instrument."""
        self._device.overrun()


class PracticeBench:
    """A running bench: `start` it, read its `addresses`, `stop` it."""

    def __init__(self, options: BenchOptions) -> None:
        seed, delays = options.settings.seed, options.delays
        self._clock = SteppedClock() if options.stepped_time else WallClock(options.speed)
        self.workbench = Workbench(options.settings, self._clock)
        self._faults = {role: FaultPlan(seed, salt, options.late_s) for salt, role in enumerate(_ROLES)}
        clock, view = self._clock, self.workbench
        meter_noise = MeterNoise(NoiseStream(seed, 21), 0.0 if options.quiet_meter else 1.0)
        devices: dict[str, Device] = {
            "source": SignalSource(_identity("Signal Source", seed), clock, delays, view),
            "meter": Multimeter(_identity("Multimeter", seed), clock, delays, view, meter_noise),
            "counter": FrequencyCounter(_identity("Counter", seed), clock, delays, view, NoiseStream(seed, 22)),
        }
        self._servers = {role: self._serve(device, self._faults[role], delays) for role, device in devices.items()}
        dice = np.random.default_rng([seed, 23])
        self._servers["sound"] = LineServer(lambda: SoundSocket(view.scene, clock, dice), clock.wait)
        self._servers["hands"] = LineServer(lambda: Hands(view, self._faults, clock), clock.wait)

    def _serve(self, device: Device, faults: FaultPlan, delays: Delays) -> LineServer:
        def before() -> None:
            if delays.exchange > 0.0:
                self._clock.wait(delays.exchange)

        return LineServer(lambda: _ScpiSession(device, faults, before), self._clock.wait)

    @property
    def addresses(self) -> dict[str, str]:
        """Where each instrument and the hands listen."""
        ports = {role: server.port for role, server in self._servers.items()}
        resources = {role: f"TCPIP::127.0.0.1::{ports[role]}::SOCKET" for role in _ROLES}
        return {
            **resources,
            "hands": f"127.0.0.1:{ports['hands']}",
            "sound": f"sound:tcp://127.0.0.1:{ports['sound']}",
        }

    def start(self) -> None:
        """Begin to serve."""
        for server in self._servers.values():
            server.start()

    def stop(self) -> None:
        """End every wait, cut every client, close every port."""
        self._clock.release()
        for server in self._servers.values():
            server.stop()


def _identity(name: str, seed: int) -> str:
    return f"Peakwright Practice,{name},{seed:06d},{_VERSION}"
