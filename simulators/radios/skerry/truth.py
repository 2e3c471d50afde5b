"""The truth about one Skerry 7, found numerically on its own noiseless physics."""

from collections.abc import Callable
from typing import Final

from simulators.radios import truths
from simulators.radios.skerry import design
from simulators.radios.skerry.radio import Skerry

_MARKS_KHZ: Final = (0.0, 100.0, 200.0, 300.0, 400.0, 500.0)
_WINDINGS: Final = ("T1 primary", "T1 secondary", "T2 primary", "T2 secondary")
_CAN_REACH_HZ: Final = 60e3
_INPUT_FILTER_REACH_HZ: Final = 150e3
_TUNABLE_REACH_HZ: Final = 300e3
_MIDDLE_MARK: Final = 5.0
_THIRDS: Final = 40

Best = tuple[float, bool]


def tell(radio: Skerry, meter_point: str | None) -> dict[str, object]:
    """Tell centres, widths, oscillators, the dial's error and how far each adjuster is from its best."""
    band = radio.choice("band")
    return {
        "receiver": radio.id,
        "controls": {name: control.value for name, control in radio.controls.items()},
        "faults": list(radio.faults),
        "circuits": _circuits(radio, band),
        "oscillators": {
            "crystal oscillator": radio.crystal_hz(),
            "tunable oscillator": radio.tunable_hz(),
            "third oscillator": radio.third_hz(),
            "beat oscillator": radio.beat_hz(),
        },
        "dial": _dial(radio),
        "crystal oscillator test point": {one: radio.test_point_volts(one) for one in design.BANDS},
        "passband symmetry": _symmetry(radio),
        "adjusters": _adjusters(radio, band),
        "bests by band": _bests_by_band(radio),
        "scan": scan(radio, meter_point),
    }


def _circuits(radio: Skerry, band: str) -> dict[str, object]:
    cans = (radio.can("T1"), radio.can("T2"))
    return {
        "input filter": truths.look_through([radio.input_filter()], design.SECOND_IF_HZ, _INPUT_FILTER_REACH_HZ),
        "85 kHz filter": _filter(radio),
        "T1": truths.look_through(cans[:1], design.SECOND_IF_HZ, _CAN_REACH_HZ),
        "T2": truths.look_through(cans[1:], design.SECOND_IF_HZ, _CAN_REACH_HZ),
        "cans": truths.look_through(cans, design.SECOND_IF_HZ, _CAN_REACH_HZ),
        "tunable IF": truths.look_through(
            [radio.tunable_if()], design.tunable_if_hz(radio.shaft_khz()), _TUNABLE_REACH_HZ
        ),
        "preselector": _preselector(radio, band, ("antenna", "mixer")),
        "preselector antenna circuit": _preselector(radio, band, ("antenna",)),
        "preselector mixer circuit": _preselector(radio, band, ("mixer",)),
    }


def _preselector(radio: Skerry, band: str, sides: tuple[str, ...]) -> dict[str, float | None]:
    tuned_hz = design.preselector_hz(band, radio.mark("preselector"))
    reach_hz = 6 * tuned_hz / design.PRESELECTOR_QUALITY[band]
    return truths.look_through([radio.preselector_circuit(side) for side in sides], tuned_hz, reach_hz)


def _filter(radio: Skerry) -> dict[str, float | None]:
    cut = design.FILTER_DESIGNS[radio.choice("selectivity")]
    centre_hz = design.THIRD_IF_HZ + design.PASSBAND_SHIFT_HZ * radio.mark("passband")
    return truths.look_through([radio.filter_circuit()], centre_hz, 6 * cut.nominal_width_hz + 600)


def _dial(radio: Skerry) -> dict[str, object]:
    """Where the receiver is tuned, told both ways: by the middle of its passband, and by zero beat."""
    centre_hz = _filter(radio)["centre_hz"] or design.THIRD_IF_HZ
    crystal_hz = radio.crystal_hz()
    reading_khz = radio.mark("dial")
    passband_khz = _error_khz(radio, centre_hz, reading_khz)
    base_hz = design.LOW_EDGE_HZ[radio.choice("band")] + reading_khz * 1e3
    return {
        "reading_khz": reading_khz,
        "runs": crystal_hz is not None,
        "tuned_by_passband_hz": None if passband_khz is None else base_hz + passband_khz * 1e3,
        "error_by_passband_khz": passband_khz,
        "error_by_zero_beat_khz": _error_khz(radio, radio.beat_hz(), reading_khz),
        "errors_by_passband_khz": {f"{mark:g}": _error_khz(radio, centre_hz, mark) for mark in _MARKS_KHZ},
        "errors_by_zero_beat_khz": {f"{mark:g}": _error_khz(radio, radio.beat_hz(), mark) for mark in _MARKS_KHZ},
        "image_hz": None if passband_khz is None else base_hz + 2 * design.tunable_if_hz(radio.shaft_khz()),
    }


def _error_khz(radio: Skerry, last_if_hz: float, reading_khz: float) -> float | None:
    """Where the receiver is minus what the dial says, with the signal brought to a frequency of the last IF."""
    crystal_hz = radio.crystal_hz()
    if crystal_hz is None:
        return None
    second_if_hz = radio.third_hz() + last_if_hz
    signal_hz = crystal_hz - (radio.tunable_hz(dial_khz=reading_khz) - second_if_hz)
    return (signal_hz - design.LOW_EDGE_HZ[radio.choice("band")]) / 1e3 - reading_khz


def _symmetry(radio: Skerry) -> dict[str, float | None]:
    """How far the filter's upper edge is above the beat oscillator, with the passband control at either end."""
    edges: dict[str, float | None] = {}
    for name, mark in (("low end", -1.0), ("high end", 1.0)):
        with truths.standing(radio, passband=mark):
            response = _filter(radio)
        for side in ("lower", "upper"):
            edge_hz = response[f"{side}_3db_hz"]
            edges[f"{side} edge at {name}, from beat oscillator, hz"] = (
                None if edge_hz is None else edge_hz - radio.beat_hz()
            )
    return edges


def _adjusters(radio: Skerry, band: str) -> dict[str, object]:
    best: dict[str, Best] = dict.fromkeys(("L1", "L2", "L3", "L4", "passband knob"), (0.0, True))
    for name, error in _single_errors(radio, band).items():
        best[name] = truths.best_turns(radio, name, error)
    pair = ("tunable oscillator trimmer", "tunable oscillator slug")
    best |= dict(zip(pair, truths.best_pair(radio, pair, _scale_errors(radio)), strict=True))
    best["dial pointer"] = truths.best_pointer(radio, "dial pointer", lambda: _dial_errors(radio))
    for slug in dict.fromkeys(design.CRYSTAL_SLUGS.values()):
        best[slug] = _compromise(radio, slug)
    return {name: truths.adjuster_truth(radio, name, best[name]) for name in radio.adjusters}


def _single_errors(radio: Skerry, band: str) -> dict[str, Callable[[], float]]:
    """For each adjuster that has one circuit to itself, how far that circuit is off."""

    def winding_error(name: str) -> Callable[[], float]:
        def error() -> float:
            factor = design.CAN_SLUG.factor(radio.position(name))
            return factor * (1 + radio.unit.capacitor_error[name]) - 1

        return error

    def selector_error(side: str) -> Callable[[], float]:
        mark = radio.mark("preselector")
        return lambda: radio.preselector_tank(side, band, mark).resonance_hz - design.preselector_hz(band, mark)

    return {
        **{name: winding_error(name) for name in _WINDINGS},
        "third oscillator slug": lambda: radio.third_hz() - design.THIRD_OSCILLATOR_HZ,
        "beat oscillator slug": lambda: radio.beat_hz() - design.THIRD_IF_HZ,
        "tunable IF trimmer": lambda: radio.tunable_if_tank().resonance_hz - design.tunable_if_hz(radio.shaft_khz()),
        "preselector antenna trimmer": selector_error("antenna"),
        "preselector mixer trimmer": selector_error("mixer"),
    }


def _scale_errors(radio: Skerry) -> tuple[Callable[[], float], Callable[[], float]]:
    """How far the tunable oscillator is off at the ends of its shaft: the trimmer's end, then the slug's."""
    pointer_khz = radio.position("dial pointer")

    def error_at(shaft_khz: float) -> float:
        meant_hz = design.TUNABLE_OSCILLATOR_TOP_HZ - shaft_khz * 1e3
        return radio.tunable_hz(dial_khz=shaft_khz + pointer_khz) - meant_hz

    return (lambda: error_at(0.0)), (lambda: error_at(design.DIAL_KHZ))


def _dial_errors(radio: Skerry) -> list[float]:
    errors = (_error_khz(radio, design.THIRD_IF_HZ, mark) for mark in _MARKS_KHZ)
    return [0.0 if error is None else error for error in errors]


def _bands_of(slug: str) -> list[str]:
    return [band for band, name in design.CRYSTAL_SLUGS.items() if name == slug]


def _crystal_best(radio: Skerry, slug: str, band: str) -> Best:
    return truths.best_turns(
        radio, slug, lambda: radio.crystal_circuit_hz(band) - radio.crystal(band).best_circuit_hz()
    )


def _compromise(radio: Skerry, slug: str) -> Best:
    """The setting of a shared slug whose worse band is best: between the bands' own bests, found by thirds.

    Where one band is the weaker even at its own best, that best is the compromise.
    """
    bands = _bands_of(slug)
    bests = [_crystal_best(radio, slug, band) for band in bands]
    low, high = min(best[0] for best in bests), max(best[0] for best in bests)
    part = radio.adjusters[slug]
    kept = part.position_turns
    try:
        for _ in range(_THIRDS):
            third = (high - low) / 3
            if _worst(radio, slug, low + third, bands) < _worst(radio, slug, high - third, bands):
                low += third
            else:
                high -= third
    finally:
        part.position_turns = kept
    return (low + high) / 2, all(best[1] for best in bests)


def _worst(radio: Skerry, slug: str, turns: float, bands: list[str]) -> float:
    radio.adjusters[slug].position_turns = turns
    return min(abs(radio.test_point_volts(band)) for band in bands)


def _bests_by_band(radio: Skerry) -> dict[str, dict[str, float]]:
    """For each adjuster that serves several bands, its best position on each alone."""
    found: dict[str, dict[str, float]] = {}
    for band in design.BANDS:
        slug = design.CRYSTAL_SLUGS[band]
        found.setdefault(slug, {})[band] = _crystal_best(radio, slug, band)[0]
        for side in ("antenna", "mixer"):
            name = f"preselector {side} trimmer"
            found.setdefault(name, {})[band] = _selector_best(radio, side, band)
    return found


def _selector_best(radio: Skerry, side: str, band: str) -> float:
    meant_hz = design.preselector_hz(band, _MIDDLE_MARK)
    name = f"preselector {side} trimmer"
    return truths.best_turns(
        radio, name, lambda: radio.preselector_tank(side, band, _MIDDLE_MARK).resonance_hz - meant_hz
    )[0]


def scan(radio: Skerry, meter_point: str | None) -> dict[str, float | None] | None:
    """What an ideal scan with the leads where they are now would find, or None where that makes no sense.

    Of the frequencies that may enter there, the one nearest the source's present setting is looked at.
    """
    point = radio.source_lead.to
    if meter_point == "mixer probe" and point == "antenna":
        return _preselector(radio, radio.choice("band"), ("antenna", "mixer"))
    if point is None or meter_point not in ("detector", "agc line"):
        return None
    signal_hz = design.LOW_EDGE_HZ[radio.choice("band")] + radio.mark("dial") * 1e3
    tunable_hz = design.tunable_if_hz(radio.mark("dial"))
    entries = {
        "antenna": (signal_hz,),
        "first mixer": (tunable_hz, signal_hz),
        "second mixer": (design.SECOND_IF_HZ, tunable_hz),
        "third mixer": (design.THIRD_IF_HZ, design.SECOND_IF_HZ),
    }[point]
    now_hz = entries[0] if radio.signal is None else radio.signal.frequency_hz
    nearest_hz = min(entries, key=lambda entry_hz: abs(entry_hz - now_hz))
    width_hz = design.FILTER_DESIGNS[radio.choice("selectivity")].nominal_width_hz
    return truths.look_through_all(radio.stages_from(point), nearest_hz, 3 * width_hz + 4000)
