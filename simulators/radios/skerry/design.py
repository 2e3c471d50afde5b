"""What the Skerry 7's makers meant: every figure here is by design, before ageing and misalignment."""

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from simulators.physics.agc import ControlTimes, GainControl
from simulators.physics.detectors import Diode
from simulators.physics.networks import Coupling, Network, Tank
from simulators.radios.parts import Slug, Trimmer

BANDS: Final = ("4.5", "6", "8.5", "12", "16", "19", "25.5")
LOW_EDGE_HZ: Final = MappingProxyType({band: float(band) * 1e6 for band in BANDS})
CRYSTAL_HZ: Final = MappingProxyType({band: edge_hz + 3.4e6 for band, edge_hz in LOW_EDGE_HZ.items()})
CRYSTAL_SLUGS: Final = MappingProxyType(
    {
        "4.5": "crystal slug 4.5/6",
        "6": "crystal slug 4.5/6",
        "8.5": "crystal slug 8.5/12",
        "12": "crystal slug 8.5/12",
        "16": "crystal slug 16",
        "19": "crystal slug 19",
        "25.5": "crystal slug 25.5",
    }
)
DIAL_KHZ: Final = 500.0
TUNABLE_IF_TOP_HZ: Final = 3.4e6
SECOND_IF_HZ: Final = 520e3
THIRD_OSCILLATOR_HZ: Final = 435e3
THIRD_IF_HZ: Final = 85e3
TUNABLE_OSCILLATOR_TOP_HZ: Final = TUNABLE_IF_TOP_HZ + SECOND_IF_HZ
PASSBAND_SHIFT_HZ: Final = 1500.0

DETECTOR: Final = Diode(knee_volts=0.05, ceiling_volts=40.0)
PROBE: Final = Diode(knee_volts=0.4, ceiling_volts=60.0)
GAIN_CONTROL: Final = GainControl(
    delay_volts=2.0, volts_per_volt=4.0, ceiling_volts=25.0, db_per_volt=8.0, softening=0.03
)
CONTROL_TIMES: Final = MappingProxyType({"fast": ControlTimes(0.01, 0.15), "slow": ControlTimes(0.02, 1.5)})

OSCILLATOR_SLUG: Final = Slug(swing=0.03)
CAN_SLUG: Final = Slug(swing=0.06)
FILTER_SLUG: Final = Slug(swing=0.03)
CRYSTAL_SLUG: Final = Slug(swing=0.12)
OSCILLATOR_TRIMMER: Final = Trimmer(0.4e-12)
TUNABLE_IF_TRIMMER: Final = Trimmer(2e-12)
PRESELECTOR_TRIMMER: Final = Trimmer(1.2e-12)


@dataclass(frozen=True, slots=True)
class FilterDesign:
    """The 85 kHz filter at one selectivity: where each circuit is tuned, and the bandwidth its couplings are cut for.

    Found by the makers so that the half-power points lie half a width on either side of 85 kHz, losses included.
    """

    tuned_hz: float
    coupled_for_hz: float
    nominal_width_hz: float


FILTER_DESIGNS: Final = MappingProxyType(
    {
        "0.8 kHz": FilterDesign(84992.089919518, 919.245218462967, 800.0),
        "1.6 kHz": FilterDesign(84973.42788769992, 1758.0987995059854, 1600.0),
        "3.2 kHz": FilterDesign(84907.66421317798, 3373.6902294888428, 3200.0),
    }
)
_FILTER_COIL_H: Final = 5e-3
_FILTER_COIL_QUALITY: Final = 250.0
INPUT_FILTER_WIDTH_HZ: Final = 30e3
_INPUT_FILTER_COIL_H: Final = 1e-3
_INPUT_FILTER_COIL_QUALITY: Final = 120.0
# Four-pole maximally flat couplings and end loading (normalised k and q), shared out by the makers' own table.
_FILTER_COUPLINGS: Final = (0.8409, 0.5412, 0.8409)
_FILTER_END_QUALITY: Final = 0.7654


def filter_tanks(design: FilterDesign) -> list[Tank]:
    """The four circuits of the 85 kHz filter."""
    share = design.coupled_for_hz / THIRD_IF_HZ
    return _four_tanks(design.tuned_hz, share, _FILTER_COIL_H, _FILTER_COIL_QUALITY)


def filter_couplings(design: FilterDesign) -> list[Coupling]:
    """The mutual inductances between its neighbours."""
    return _three_couplings(design.coupled_for_hz / THIRD_IF_HZ)


def input_filter_tanks() -> list[Tank]:
    """The four circuits of the input filter, before the cans of the second IF."""
    share = INPUT_FILTER_WIDTH_HZ / SECOND_IF_HZ
    return _four_tanks(SECOND_IF_HZ, share, _INPUT_FILTER_COIL_H, _INPUT_FILTER_COIL_QUALITY)


def input_filter_couplings() -> list[Coupling]:
    """The mutual inductances between its neighbours."""
    return _three_couplings(INPUT_FILTER_WIDTH_HZ / SECOND_IF_HZ)


def _four_tanks(tuned_hz: float, share: float, coil_h: float, coil_quality: float) -> list[Tank]:
    """Four like coils; the outer two carry the load."""
    ends = 1 / (1 / coil_quality + share / _FILTER_END_QUALITY)
    return [Tank.tuned(tuned_hz, coil_h, quality) for quality in (ends, coil_quality, coil_quality, ends)]


def _three_couplings(share: float) -> list[Coupling]:
    return [Coupling(at, at + 1, mutual=part * share) for at, part in enumerate(_FILTER_COUPLINGS)]


CAN_COIL_H: Final = 1.15e-3
CAN_QUALITY: Final = 65.66
TUNABLE_IF_COIL_H: Final = 17e-6
TUNABLE_IF_QUALITY: Final = 78.5
TUNABLE_OSCILLATOR_COIL_H: Final = 10e-6
FIXED_OSCILLATOR_COIL_H: Final = 1e-3
CRYSTAL_CIRCUIT_QUALITY: Final = 40.0
CRYSTAL_VIGOUR: Final = 6.0
WEAK_CRYSTAL_VIGOUR: Final = 1.9
TEST_POINT_VOLTS: Final = -9.0

PRESELECTOR_COIL_H: Final = MappingProxyType(
    {"4.5": 3.2e-6, "6": 3.2e-6, "8.5": 1.4e-6, "12": 1.4e-6, "16": 0.4e-6, "19": 0.4e-6, "25.5": 0.4e-6}
)
PRESELECTOR_QUALITY: Final = MappingProxyType(
    {"4.5": 80.0, "6": 78.0, "8.5": 75.0, "12": 72.0, "16": 66.0, "19": 58.0, "25.5": 50.0}
)
PRESELECTOR_LOW_MARK: Final = 2.0
PRESELECTOR_HIGH_MARK: Final = 8.0
PRESELECTOR_GAIN: Final = 2.0

MIXER_CONVERSION: Final = 0.3
MIXER_SPURIOUS: Final = 0.002
TUNABLE_IF_GAIN: Final = 2.0
SECOND_IF_GAIN: Final = 3.0
THIRD_IF_GAIN: Final = 1500.0
FIRST_MIXER_NOISE_OHM: Final = 20e3
LATER_MIXER_NOISE_OHM: Final = 1e3


def preselector_hz(band: str, mark: float) -> float:
    """Where the makers' knob scale says the preselector is tuned."""
    share = (mark - PRESELECTOR_LOW_MARK) / (PRESELECTOR_HIGH_MARK - PRESELECTOR_LOW_MARK)
    return LOW_EDGE_HZ[band] + share * DIAL_KHZ * 1e3


def tunable_if_hz(shaft_khz: float) -> float:
    """What the tunable IF should be with the dial's shaft there; it runs against the dial."""
    return TUNABLE_IF_TOP_HZ - shaft_khz * 1e3


def resonance_farads(frequency_hz: float, inductance_h: float) -> float:
    """The capacitance that tunes a coil to a frequency."""
    return Tank.tuned(frequency_hz, inductance_h, 1.0).capacitance_f


def peak_ohm(tanks: list[Tank], couplings: list[Coupling], frequency_hz: float) -> float:
    """From the first node to the last, as designed: what the makers' stage gain was reckoned with."""
    return abs(Network(tanks, couplings).transfer_ohm(frequency_hz, 0, len(tanks) - 1))
