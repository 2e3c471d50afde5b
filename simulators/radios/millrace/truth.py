"""The truth about one Millrace 5, found numerically on its own noiseless physics."""

from collections.abc import Callable
from typing import Final

from simulators.radios import truths
from simulators.radios.millrace import design
from simulators.radios.millrace.build import WINDINGS
from simulators.radios.millrace.radio import Millrace

_CAN_REACH_HZ: Final = 60e3
_SIGNAL_WIDTHS: Final = 6.0

Best = tuple[float, bool]


def tell(radio: Millrace, meter_point: str | None) -> dict[str, object]:
    """Tell centres, widths, the oscillator, the dial's error and how far each adjuster is from its best."""
    return {
        "receiver": radio.id,
        "controls": {name: control.value for name, control in radio.controls.items()},
        "faults": list(radio.faults),
        "circuits": _circuits(radio),
        "oscillators": {"oscillator": radio.oscillator_hz()},
        "dial": _dial(radio),
        "adjusters": _adjusters(radio),
        "scan": scan(radio, meter_point),
    }


def _circuits(radio: Millrace) -> dict[str, object]:
    cans = (radio.can("can 1"), radio.can("can 2"))
    return {
        "can 1": truths.look_through(cans[:1], design.IF_HZ, _CAN_REACH_HZ),
        "can 2": truths.look_through(cans[1:], design.IF_HZ, _CAN_REACH_HZ),
        "IF": truths.look_through(cans, design.IF_HZ, _CAN_REACH_HZ),
        "antenna circuit": _antenna_circuit(radio),
    }


def _antenna_circuit(radio: Millrace) -> dict[str, float | None]:
    tuned_hz = radio.mark("dial") * 1e3
    return truths.look_through([radio.signal_circuit()], tuned_hz, _SIGNAL_WIDTHS * tuned_hz / design.SIGNAL_QUALITY)


def _error_khz(radio: Millrace, if_hz: float, reading_khz: float) -> float:
    return (radio.oscillator_hz(dial_khz=reading_khz) - if_hz) / 1e3 - reading_khz


def _dial(radio: Millrace) -> dict[str, object]:
    """Where the receiver is tuned: by the middle of its own IF, and by the IF its makers meant."""
    cans = (radio.can("can 1"), radio.can("can 2"))
    centre_hz = truths.look_through(cans, design.IF_HZ, _CAN_REACH_HZ)["centre_hz"] or design.IF_HZ
    reading_khz = radio.mark("dial")
    return {
        "reading_khz": reading_khz,
        "error_by_passband_khz": _error_khz(radio, centre_hz, reading_khz),
        "errors_by_passband_khz": {f"{mark:g}": _error_khz(radio, centre_hz, mark) for mark in design.SCALE_MARKS_KHZ},
        "errors_by_nominal_if_khz": {
            f"{mark:g}": _error_khz(radio, design.IF_HZ, mark) for mark in design.SCALE_MARKS_KHZ
        },
        "image_hz": radio.oscillator_hz() + design.IF_HZ,
    }


def _adjusters(radio: Millrace) -> dict[str, object]:
    best: dict[str, Best] = {name: truths.best_turns(radio, name, _winding_error(radio, name)) for name in WINDINGS}
    pair = ("oscillator trimmer", "oscillator padder")
    best |= dict(zip(pair, truths.best_pair(radio, pair, _scale_errors(radio)), strict=True))
    best["antenna trimmer"] = truths.best_turns(radio, "antenna trimmer", lambda: _antenna_error(radio))
    best["dial pointer"] = truths.best_pointer(
        radio, "dial pointer", lambda: [_error_khz(radio, design.IF_HZ, mark) for mark in design.SCALE_MARKS_KHZ]
    )
    return {name: truths.adjuster_truth(radio, name, best[name]) for name in radio.adjusters}


def _winding_error(radio: Millrace, name: str) -> Callable[[], float]:
    def error() -> float:
        return design.CAN_SLUG.factor(radio.position(name)) * (1 + radio.unit.capacitor_error[name]) - 1

    return error


def _scale_errors(radio: Millrace) -> tuple[Callable[[], float], Callable[[], float]]:
    """How far the dial is off at its high end, the trimmer's, and at its low end, the padder's, as the pointer is."""
    low_khz, high_khz = design.SCALE_ENDS_KHZ
    return (
        (lambda: _error_khz(radio, design.IF_HZ, high_khz)),
        (lambda: _error_khz(radio, design.IF_HZ, low_khz)),
    )


def _antenna_error(radio: Millrace) -> float:
    """How far the antenna circuit is from where the receiver is tuned, with the dial at its high end."""
    with truths.standing(radio, dial=design.SCALE_ENDS_KHZ[1]):
        tuned_hz = radio.oscillator_hz() - design.IF_HZ
        return radio.signal_tank().resonance_hz - tuned_hz


def scan(radio: Millrace, meter_point: str | None) -> dict[str, float | None] | None:
    """What an ideal scan with the leads where they are now would find, AGC undone; None where that makes no sense."""
    point = radio.source_lead.to
    if meter_point == "mixer probe" and point == "antenna":
        return _antenna_circuit(radio)
    if point is None or meter_point not in ("detector", "agc line"):
        return None
    tuned_hz = radio.mark("dial") * 1e3
    entries = {"antenna": (tuned_hz,), "converter grid": (design.IF_HZ, tuned_hz), "IF grid": (design.IF_HZ,)}[point]
    now_hz = entries[0] if radio.signal is None else radio.signal.frequency_hz
    nearest_hz = min(entries, key=lambda entry_hz: abs(entry_hz - now_hz))
    return truths.look_through_all(radio.stages_from(point), nearest_hz, 4 * design.NOMINAL_WIDTH_HZ)
