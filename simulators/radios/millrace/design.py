"""What the Millrace 5's makers meant: every figure here is by design, before ageing and misalignment."""

from typing import Final

from simulators.physics.agc import ControlTimes, GainControl
from simulators.physics.detectors import Diode
from simulators.physics.tracking import PaddedCircuit, SignalCircuit, design_oscillator
from simulators.radios.parts import Slug, Trimmer

LOW_KHZ: Final = 540.0
HIGH_KHZ: Final = 1600.0
IF_HZ: Final = 455e3
EXACT_HZ: Final = (600e3, 1000e3, 1400e3)
SCALE_ENDS_KHZ: Final = (600.0, 1400.0)
SCALE_MARKS_KHZ: Final = (600.0, 800.0, 1000.0, 1200.0, 1400.0)
NOMINAL_WIDTH_HZ: Final = 8000.0

DETECTOR: Final = Diode(knee_volts=0.05, ceiling_volts=45.0)
PROBE: Final = Diode(knee_volts=0.4, ceiling_volts=60.0)
GAIN_CONTROL: Final = GainControl(
    delay_volts=0.0, volts_per_volt=1.0, ceiling_volts=30.0, db_per_volt=5.0, softening=0.04
)
CONTROL_TIMES: Final = ControlTimes(attack_s=0.06, release_s=0.06)

CAN_COIL_H: Final = 1.15e-3
CAN_QUALITY: Final = 64.35
CAN_SLUG: Final = Slug(swing=0.06)
TRIMMER: Final = Trimmer(1.5e-12)
PADDER_SHARE_PER_TURN: Final = 0.03

SIGNAL_CIRCUIT: Final = SignalCircuit(200e-6, 30e-12)
SIGNAL_QUALITY: Final = 60.0
ANTENNA_GAIN: Final = 5.0
BARE_CABLE_DAMPING: Final = 1.8
BARE_CABLE_FARADS: Final = 3e-12

CONVERTER_STRAIGHT: Final = 0.6
CONVERTER_CONVERSION: Final = 0.3
CONVERTER_SPURIOUS: Final = 0.002
CONVERTER_GAIN: Final = 40.0
IF_GAIN: Final = 100.0
GRID_NOISE_OHM: Final = 150e3


def oscillator_circuit() -> PaddedCircuit:
    """The oscillator as designed: 455 kHz above the signal circuit at three points."""
    return design_oscillator(SIGNAL_CIRCUIT, IF_HZ, EXACT_HZ)
