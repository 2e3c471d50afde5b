"""What image rejection and sensitivity a simulated unit really has, by its own physics alone."""

import math

import numpy as np

from simulators.radios.catalogue import shipped_models
from simulators.radios.leads import Lead, Signal
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions, Radio

LOOK_DBM = -60.0
REACH_HZ = 30e3


def unit(receiver_id: str, seed: int, lead: Lead, controls: dict[str, str | float]) -> Radio:
    """Give the unit that a seed draws, with its controls set."""
    radio = shipped_models()[receiver_id].make(Draw(seed), Conditions()).radio
    for name, to in controls.items():
        radio.set_control(name, to)
    radio.feed(lead, None)
    return radio


def peak(radio: Radio, lead: Lead, near_hz: float, step_hz: float) -> tuple[float, float]:
    """Give where the receiver hears best near a frequency, and the carrier's peak voltage there."""
    best = (near_hz, 0.0)
    for frequency_hz in np.arange(near_hz - REACH_HZ, near_hz + REACH_HZ, step_hz):
        radio.feed(lead, Signal(float(frequency_hz), LOOK_DBM))
        volts = radio.carrier().peak_volts
        best = max(best, (float(frequency_hz), volts), key=lambda each: each[1])
    return best


def true_rejection_db(radio: Radio, lead: Lead, signal_hz: float, image_hz: float, step_hz: float) -> float:
    """Compare the voltages that signal and image, equally strong, make before detector and gain control."""
    return 20.0 * math.log10(peak(radio, lead, signal_hz, step_hz)[1] / peak(radio, lead, image_hz, step_hz)[1])


def true_level_dbm(radio: Radio, lead: Lead, signal_hz: float, step_hz: float) -> float:
    """Give the power at which carrier and noise together have ten times the power of the noise."""
    _, peak_volts = peak(radio, lead, signal_hz, step_hz)
    carrier_w, noise_w = peak_volts**2 / 2.0, radio.carrier().noise_volts ** 2
    return LOOK_DBM + 10.0 * math.log10(9.0 * noise_w / carrier_w)
