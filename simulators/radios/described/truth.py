"""The truth about one described receiver, from its own noiseless physics."""

from simulators.radios import truths
from simulators.radios.chain import Circuit
from simulators.radios.described.paper import HZ, between
from simulators.radios.described.radio import Described

_REACH_WIDTHS = 4.0


def tell(radio: Described, meter_point: str | None) -> dict[str, object]:
    """Tell circuits, oscillators, the dial's error and how far each adjuster is from its best."""
    tuned = [(what, name) for what, name in radio.way.items if what in ("fixed", "moving", "front")]
    return {
        "receiver": radio.id,
        "controls": {name: control.value for name, control in radio.controls.items()},
        "faults": list(radio.faults),
        "circuits": {_called(radio, name): _look(radio, what, name) for what, name in tuned},
        "oscillators": _oscillators(radio),
        "dial": _dial(radio),
        "adjusters": {name: _adjuster(radio, name) for name in radio.adjusters},
        "scan": scan(radio, meter_point),
    }


def _called(radio: Described, name: str) -> str:
    """Name a circuit of the preselector by its number, and what is sealed in an IF by that IF."""
    if name.isdigit():
        return f"{radio.paper.tables['preselector']['name']} {int(name) + 1}"
    return str(radio.paper.tables["if"][name]["name"]) if name in radio.paper.tables["if"] else name


def _look(radio: Described, what: str, name: str) -> dict[str, float | None]:
    stage = next(
        stage for item, stage in zip(radio.way.items, radio.make_stages(""), strict=True) if item == (what, name)
    )
    assert isinstance(stage, Circuit)  # noqa: S101 - by what it is
    tank_hz = {"front": lambda: radio.front_tank(int(name)), "moving": lambda: radio.moving_tank(name)}
    if what in tank_hz:
        tank = tank_hz[what]()
        width_hz = tank.loss_s / (tank.capacitance_f * 6.283185307179586)
        return truths.look_through([stage], tank.resonance_hz, _REACH_WIDTHS * width_hz)
    intermediate = radio.intermediate_of(name)
    centre_hz = radio.paper.if_ends_hz(intermediate)[0]
    own = radio.paper.table("filter").get(name, {}).get("width_khz", 0.0) * HZ
    return truths.look_through([stage], centre_hz, _REACH_WIDTHS * max(own, radio.paper.widest_hz(intermediate)))


def _oscillators(radio: Described) -> dict[str, float | None]:
    found = {
        str(radio.paper.conversion(key)["oscillator"]): radio.oscillator_hz(key) for key in radio.paper.conversions
    }
    if "beat_oscillator" in radio.paper.tables:
        found["beat oscillator"] = radio.beat_hz()
    return found


def tuned_khz(radio: Described, dial_khz: float) -> float | None:
    """What the receiver is tuned to with its last IF in the middle, the dial reading so; None where one has stopped."""
    paper = radio.paper
    at_hz = paper.if_ends_hz(paper.ifs[-1])[0]
    for key in reversed(paper.conversions):
        oscillator = radio.oscillator_hz(key, dial_khz=dial_khz)
        if oscillator is None:
            return None
        side = paper.conversion(key)["side"]
        at_hz = {"high": oscillator - at_hz, "low": oscillator + at_hz, "sum": at_hz - oscillator}[side]
    return at_hz / HZ


def _dial(radio: Described) -> dict[str, object]:
    """Where the receiver is tuned, less what its dial says, at the marks of the band that is switched on."""
    paper, band = radio.paper, radio.band()
    marks = paper.tables["dial"]["marks_khz"]
    marks = marks[band] if isinstance(marks, dict) else marks
    base = paper.ends_hz(band)[0] / HZ if paper.tables["dial"]["reads"] == "above band edge" else 0.0
    reading = radio.mark(paper.tables["dial"]["control"])
    tuned = {mark: tuned_khz(radio, mark) for mark in [reading, *marks]}
    errors = {mark: None if at is None else at - base - mark for mark, at in tuned.items()}
    return {
        "reading_khz": reading,
        "error_khz": errors[reading],
        "errors_by_nominal_if_khz": {f"{mark:g}": errors[mark] for mark in marks},
    }


def _adjuster(radio: Described, name: str) -> dict[str, object]:
    part, best = radio.adjusters[name], radio.unit.best[name]
    return truths.adjuster_truth(radio, name, (best, abs(best) <= part.travel_turns / 2))


def scan(radio: Described, meter_point: str | None) -> dict[str, float | None] | None:
    """What an ideal scan with the leads where they are now would find, AGC undone; None where that makes no sense."""
    paper, point = radio.paper, radio.source_lead.to
    reads = paper.table("meter_point").get(meter_point or "", {}).get("reads")
    if point is None or reads not in ("detector", "agc line"):
        return None
    signal_hz = paper.signal_hz(radio.band(), radio.travel())
    places = [
        signal_hz if what == "signal" else between(paper.if_ends_hz(what), radio.travel())
        for what in paper.table("source_point")[point]["enters"]
    ]
    now_hz = places[0] if radio.signal is None else radio.signal.frequency_hz
    nearest_hz = min(places, key=lambda place: abs(place - now_hz))
    return truths.look_through_all(radio.stages_from(point), nearest_hz, _REACH_WIDTHS * paper.narrowest_hz())
