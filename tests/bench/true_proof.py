"""What a simulated unit's proof should come to: every figure by the unit's own physics, searched and halved for."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sequences.alignment.outcome import Task
from sequences.plan.content import Spot
from sequences.procedures.antenna import controls_at
from simulators.physics.response import TrueResponse, find_response
from simulators.radios.catalogue import shipped_models
from simulators.radios.leads import Lead, Signal
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions, Radio
from tests.bench.true_antenna import LOOK_DBM, peak, power_for, seen_volts

STEPS_HZ = {"skerry-7": 250.0, "millrace-5": 500.0}
"""How finely a unit is searched: a fraction of its window."""

REACH_HZ = 60e3
STRONG_DBM, WEAK_DBM, TEN_MICROVOLT_DBM, REFERENCE_DBM = -26.99, -66.99, -86.99, -6.99
"""10 mV, 0.1 mV, 10 uV and 100 mV in 50 ohm: 20 log of volts over 0.2236 V."""


def unit(receiver_id: str, seed: int, *, at_rest: bool = False) -> Radio:
    """Give the unit that a seed draws; `at_rest`: its gain control has settled at every look."""
    return shipped_models()[receiver_id].make(Draw(seed), Conditions(settles_at_once=at_rest)).radio


@dataclass
class TrueUnit:
    """One unit by itself, tuned as a step tunes it at a spot. `radio` may have a weakness built in."""

    radio: Radio
    lead: Lead
    near_hz: float
    _top_hz: float | None = None

    @classmethod
    def of(cls, radio: Radio, task: Task, spot: Spot, more: Mapping[str, str | float] | None = None) -> "TrueUnit":
        """Set the controls, and put the source's lead on the antenna."""
        lead = Lead("antenna", task.way.hookup.source_through)
        for name, to in {**task.way.hookup.controls, **controls_at(task.receiver, spot), **(more or {})}.items():
            radio.set_control(name, to)
        radio.feed(lead, None)
        return cls(radio, lead, 1e3 * (spot.source_khz or 0.0))

    @property
    def step_hz(self) -> float:
        """Give how finely it is searched."""
        return STEPS_HZ[self.radio.id]

    def heard(self, frequency_hz: float, power_dbm: float = LOOK_DBM) -> float:
        """Give the carrier's peak voltage before gain control."""
        self.radio.feed(self.lead, Signal(frequency_hz, power_dbm))
        return self.radio.carrier().peak_volts

    def top_hz(self) -> float:
        """Give where it hears best, within 120 kHz of where it should; searched once."""
        if self._top_hz is None:
            self._top_hz = self._search()
        return self._top_hz

    def _search(self) -> float:
        coarse_hz = np.arange(self.near_hz - 2 * REACH_HZ, self.near_hz + 2 * REACH_HZ, self.step_hz)
        about_hz = float(max(coarse_hz, key=lambda each: self.heard(float(each))))
        fine_hz = np.arange(about_hz - 2.0 * self.step_hz, about_hz + 2.0 * self.step_hz, self.step_hz / 50.0)
        return float(max(fine_hz, key=lambda each: self.heard(float(each))))

    def response(self) -> TrueResponse:
        """Search the whole response, from the antenna to the detector."""

        def carrier(frequency_hz: np.ndarray) -> np.ndarray:
            return np.array([self.heard(float(one)) for one in frequency_hz])

        top_hz = self.top_hz()
        return find_response(carrier, top_hz - REACH_HZ, top_hz + REACH_HZ, 1201)

    def rejection_db(self, unwanted_hz: float) -> float:
        """Compare signal and an unwanted frequency, equally strong."""
        return 20.0 * math.log10(self.heard(self.top_hz()) / peak(self.radio, self.lead, unwanted_hz, self.step_hz)[1])

    def half_if_db(self, half_if_hz: float) -> float:
        """Search about half an IF above, and halve intervals for the power that is heard like 10 uV."""
        top_hz = self.top_hz()
        wanted = self.heard(top_hz, TEN_MICROVOLT_DBM)
        about_hz = top_hz + half_if_hz + np.arange(-REACH_HZ / 2, REACH_HZ / 2, 0.2 * self.step_hz)
        at_hz = float(max(about_hz, key=lambda each: self.heard(float(each), 0.0)))
        low_dbm, high_dbm = TEN_MICROVOLT_DBM, 80.0
        for _ in range(50):
            middle_dbm = 0.5 * (low_dbm + high_dbm)
            low_dbm, high_dbm = (
                (middle_dbm, high_dbm) if self.heard(at_hz, middle_dbm) < wanted else (low_dbm, middle_dbm)
            )
        return low_dbm - TEN_MICROVOLT_DBM

    def sensitivity_dbm(self) -> float:
        """Give the power at which carrier and noise together have ten times the power of the noise."""
        carrier_w = self.heard(self.top_hz()) ** 2 / 2.0
        return LOOK_DBM + 10.0 * math.log10(9.0 * self.radio.carrier().noise_volts ** 2 / carrier_w)

    def merit_db(self) -> float:
        """Give how far 100 mV may fall before the detector's voltage is 10 dB less. The unit settles at once."""
        top_hz = self.top_hz()
        volts = seen_volts(self.radio, self.lead, Signal(top_hz, REFERENCE_DBM), "detector")
        return REFERENCE_DBM - power_for(self.radio, self.lead, top_hz, "detector", volts / math.sqrt(10.0))

    def rise_db(self) -> float:
        """Give the rise of the detector's voltage from 10 uV to 10 mV. The unit settles at once."""
        top_hz = self.top_hz()
        strong, weak = (
            seen_volts(self.radio, self.lead, Signal(top_hz, power), "detector")
            for power in (STRONG_DBM, TEN_MICROVOLT_DBM)
        )
        return 20.0 * math.log10(strong / weak)

    def release_s(self) -> float:
        """Step the unit's loop by milliseconds until its output stays within 3 dB of rest. The unit takes its time."""
        top_hz = self.top_hz()
        self.radio.feed(self.lead, Signal(top_hz, STRONG_DBM))
        self.radio.advance(60.0)
        self.radio.feed(self.lead, Signal(top_hz, WEAK_DBM))
        volts = []
        for _ in range(8000):
            self.radio.advance(1e-3)
            volts.append(self.radio.sight("detector", 0.02).volts)
        level_db = 20.0 * np.log10(np.maximum(volts, 1e-9))
        return 1e-3 * float(np.flatnonzero(np.abs(level_db - level_db[-1]) > 3.0)[-1] + 1)

    def mark_dbm(self, volts: float) -> float:
        """Give the power that brings the AGC line to a voltage. The unit settles at once."""
        return power_for(self.radio, self.lead, self.top_hz(), "agc line", volts)
