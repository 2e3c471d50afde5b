"""The truth about one Skerry 7, found numerically on its own noiseless physics."""

import math

import numpy as np

from simulators.physics.response import Floats, TrueResponse, find_response
from simulators.radios.chain import Circuit, follow, together
from simulators.radios.skerry import design
from simulators.radios.skerry.radio import Skerry


def tell(radio: Skerry) -> dict[str, object]:
    """Tell centres, widths, oscillators, the dial's error and how far each adjuster is from its best."""
    band = radio.choice("band")
    return {
        "receiver": radio.id,
        "controls": {name: control.value for name, control in radio.controls.items()},
        "faults": list(radio.faults),
        "circuits": {name: found.as_json() for name, found in _circuits(radio, band).items()},
        "oscillators": {
            "crystal oscillator": radio.crystal_hz(),
            "tunable oscillator": radio.tunable_hz(),
            "third oscillator": radio.third_hz(),
            "beat oscillator": radio.beat_hz(),
        },
    }


def _circuits(radio: Skerry, band: str) -> dict[str, TrueResponse]:
    cut = design.FILTER_DESIGNS[radio.choice("selectivity")]
    if_hz, reach_hz = design.THIRD_IF_HZ + 1500 * radio.mark("passband"), 6 * cut.nominal_width_hz + 600
    signal_hz = design.LOW_EDGE_HZ[band] + radio.mark("dial") * 1e3
    tuned_hz = design.preselector_hz(band, radio.mark("preselector"))
    selector_reach_hz = 6 * tuned_hz / design.PRESELECTOR_QUALITY[band]
    antenna, mixer = radio.preselector_circuit("antenna"), radio.preselector_circuit("mixer")
    tunable_hz = design.tunable_if_hz(radio.shaft_khz())
    del signal_hz
    return {
        "60 kHz filter": _look([radio.filter_circuit()], if_hz, reach_hz),
        "T1": _look([radio.can("T1")], design.SECOND_IF_HZ, 60e3),
        "T2": _look([radio.can("T2")], design.SECOND_IF_HZ, 60e3),
        "cans": _look([radio.can("T1"), radio.can("T2")], design.SECOND_IF_HZ, 60e3),
        "tunable IF": _look([radio.tunable_if()], tunable_hz, 300e3),
        "preselector": _look([antenna, mixer], tuned_hz, selector_reach_hz),
        "preselector antenna circuit": _look([antenna], tuned_hz, selector_reach_hz),
        "preselector mixer circuit": _look([mixer], tuned_hz, selector_reach_hz),
    }


def _look(stages: list[Circuit], centre_hz: float, reach_hz: float) -> TrueResponse:
    def response(frequency_hz: Floats) -> Floats:
        gains = [
            stage.siemens * np.abs(stage.network.sweep_ohm(frequency_hz, stage.drive, stage.sense)) for stage in stages
        ]
        product: Floats = np.prod(gains, axis=0)
        return product

    return find_response(response, centre_hz - reach_hz, centre_hz + reach_hz)


def detector_response(radio: Skerry, point: str, centre_hz: float, reach_hz: float) -> TrueResponse:
    """What an ideal scan from a source point to the detector would find."""
    stages = radio.stages_from(point)

    def response(frequency_hz: Floats) -> Floats:
        return np.array([math.sqrt(2) * together(follow([(float(one), 1.0)], stages)) for one in frequency_hz])

    return find_response(response, centre_hz - reach_hz, centre_hz + reach_hz)
