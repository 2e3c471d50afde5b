"""The signal source."""

from dataclasses import dataclass, replace

from simulators.clock import Clock
from simulators.instruments.delays import Delays
from simulators.radios.leads import Signal
from simulators.scpi.device import Command, Device
from simulators.scpi.parameters import DBM, HERTZ, PERCENT, Numeric, Switch
from simulators.workbench import View

_FREQUENCY = Numeric(1.0, 100e6, 1e6, HERTZ)
_POWER = Numeric(-140.0, 13.0, -140.0, DBM)
_DEPTH = Numeric(0.0, 100.0, 30.0, PERCENT)
_TONE = Numeric(10.0, 20e3, 400.0, HERTZ)


@dataclass(frozen=True, slots=True)
class _Setting:
    frequency_hz: float = _FREQUENCY.default
    power_dbm: float = _POWER.default
    output_on: bool = False
    am_on: bool = False
    am_percent: float = _DEPTH.default
    am_hz: float = _TONE.default


class SignalSource(Device):
    """A sine-wave source with a switched output and amplitude modulation from an inner tone."""

    def __init__(self, identity: str, clock: Clock, delays: Delays, view: View) -> None:
        super().__init__(identity, clock)
        self._view = view
        self._settle_s = delays.source
        self._setting = _Setting()
        self._add_commands()

    def reset(self) -> None:
        """Everything to its default; the output is off."""
        self._change(_Setting())

    def _change(self, setting: _Setting) -> None:
        if setting == self._setting:
            return
        self._setting = setting
        depth = setting.am_percent / 100 if setting.am_on else 0.0
        signal = Signal(setting.frequency_hz, setting.power_dbm, depth, setting.am_hz)
        self._view.feed(signal if setting.output_on else None)
        self.busy_for(self._settle_s)

    def _add_commands(self) -> None:
        self.add_setting(
            "[SOURce:]FREQuency[:CW|:FIXed]",
            _FREQUENCY,
            lambda: self._setting.frequency_hz,
            lambda value: self._change(replace(self._setting, frequency_hz=value)),
        )
        self.add_setting(
            "[SOURce:]POWer[:LEVel][:IMMediate][:AMPLitude]",
            _POWER,
            lambda: self._setting.power_dbm,
            lambda value: self._change(replace(self._setting, power_dbm=value)),
        )
        self.add_setting(
            "[SOURce:]AM[:DEPTh]",
            _DEPTH,
            lambda: self._setting.am_percent,
            lambda value: self._change(replace(self._setting, am_percent=value)),
        )
        self.add_setting(
            "[SOURce:]AM:INTernal:FREQuency",
            _TONE,
            lambda: self._setting.am_hz,
            lambda value: self._change(replace(self._setting, am_hz=value)),
        )
        self.add("OUTPut#1[:STATe]", Command(self._switch, self._is_on, (Switch(),)))
        self.add("[SOURce:]AM:STATe", Command(self._switch_am, lambda: str(int(self._setting.am_on)), (Switch(),)))

    def _switch(self, _number: int, on: bool) -> None:
        self._change(replace(self._setting, output_on=on))

    def _is_on(self, _number: int) -> str:
        return str(int(self._setting.output_on))

    def _switch_am(self, on: bool) -> None:
        self._change(replace(self._setting, am_on=on))
