"""What image rejection and sensitivity a simulated unit really has, by its own physics alone."""

import math

import numpy as np

from simulators.radios.catalogue import shipped_models
from simulators.radios.leads import Lead, Signal
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions, Radio

LOOK_DBM = -60.0
REACH_HZ = 30e3


def unit(receiver_id: str, seed: int, lead: Lead, controls: dict[str, str | float], *, at_rest: bool = False) -> Radio:
    """Give the unit that a seed draws, with its controls set; `at_rest`: its gain control has settled at every look."""
    radio = shipped_models()[receiver_id].make(Draw(seed), Conditions(settles_at_once=at_rest)).radio
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


def seen_volts(radio: Radio, lead: Lead, signal: Signal, point: str) -> float:
    """Give what a meter point shows of a signal, once a receiver that settles at once has settled."""
    radio.feed(lead, signal)
    radio.advance(1e-3)
    return radio.sight(point, 0.02).volts


def power_for(radio: Radio, lead: Lead, frequency_hz: float, point: str, volts: float) -> float:
    """Give the power in dBm at which a meter point shows so many volts, by halving an interval."""
    low_dbm, high_dbm = -140.0, 10.0
    for _ in range(60):
        middle_dbm = 0.5 * (low_dbm + high_dbm)
        if abs(seen_volts(radio, lead, Signal(frequency_hz, middle_dbm), point)) < abs(volts):
            low_dbm = middle_dbm
        else:
            high_dbm = middle_dbm
    return 0.5 * (low_dbm + high_dbm)


def true_rejection_db(radio: Radio, lead: Lead, signal_hz: float, image_hz: float, step_hz: float) -> float:
    """Compare the voltages that signal and image, equally strong, make before detector and gain control."""
    return 20.0 * math.log10(peak(radio, lead, signal_hz, step_hz)[1] / peak(radio, lead, image_hz, step_hz)[1])


def true_level_dbm(radio: Radio, lead: Lead, signal_hz: float, step_hz: float) -> float:
    """Give the power at which carrier and noise together have ten times the power of the noise."""
    _, peak_volts = peak(radio, lead, signal_hz, step_hz)
    carrier_w, noise_w = peak_volts**2 / 2.0, radio.carrier().noise_volts ** 2
    return LOOK_DBM + 10.0 * math.log10(9.0 * noise_w / carrier_w)
