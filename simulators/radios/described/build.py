"""One unit of a described receiver: where each adjuster should stand, where someone left it, and what has aged."""

from collections.abc import Mapping
from dataclasses import dataclass

from simulators.physics.oscillators import WarmUp
from simulators.radios.described.paper import HZ, Paper
from simulators.radios.parts import Adjuster, Choice, Control, Draw, Knob

TRAVEL_TURNS = 12.0
_POINTERS = ("dial pointer", "knob on shaft")
_SPREAD = {"filter": 1.0, "preselector": 1.0, "conversion": 0.8, "beat_oscillator": 0.8}
_SEIZED = 0.12
_PART_PPM = 500.0


@dataclass(frozen=True, slots=True)
class Unit:
    """What no hand can change. `best` says where each adjuster has to stand, from the middle of its travel."""

    best: Mapping[str, float]
    crystal_ppm: Mapping[str, float]
    sealed_share: tuple[float, ...]
    warm_up: Mapping[str, WarmUp]


def draw_unit(paper: Paper, draw: Draw) -> Unit:
    """Draw the fixed parts, in the order of the file."""
    best = {
        name: 0.0 if entry["kind"] in _POINTERS else draw.normal(0.7) for name, entry in paper.table("adjuster").items()
    }
    limit_hz = paper.limit("oscillator_hz", 100.0)
    crystals = [f"{key} {band}" for key in paper.conversions for band in paper.tables["band"]]
    warm = {
        key: WarmUp((3.0 if _is_crystal(paper, key) else 250.0) * (1 + draw.normal(0.2)), 540.0)
        for key in paper.conversions
    }
    warm["beat_oscillator"] = WarmUp(180.0 * (1 + draw.normal(0.2)), 540.0)
    return Unit(
        best=best,
        crystal_ppm={name: draw.normal(0.25 * limit_hz / _highest_hz(paper) * 1e6) for name in crystals},
        sealed_share=tuple(draw.normal(0.02) for _ in range(20)),
        warm_up=warm,
    )


def _is_crystal(paper: Paper, key: str) -> bool:
    return bool(paper.conversion(key)["oscillator_kind"] == "crystal")


def _highest_hz(paper: Paper) -> float:
    return max(max(paper.oscillator_ends_hz(key, band)) for key in paper.conversions for band in paper.tables["band"])


def make_controls(paper: Paper) -> list[Control]:
    """The controls as a hand finds them: at rest where the file says how, else in the middle."""
    rest = paper.tables.get("controls_at_rest", {})
    made: list[Control] = []
    for name, entry in paper.tables["control"].items():
        if "choices" in entry:
            choices = tuple(entry["choices"])
            made.append(Choice(name, choices, str(rest.get(name, choices[0]))))
        else:
            low, high = float(entry["low"]), float(entry["high"])
            value = float(rest.get(name, (low + high) / 2))
            made.append(Knob(name, low, high, value, str(entry.get("unit", ""))))
    return made


def draw_adjusters(paper: Paper, unit: Unit, draw: Draw) -> list[Adjuster]:
    """The adjusters as someone left them, one in a few receivers seized."""
    made = [_adjuster(paper, name, entry, unit.best[name], draw) for name, entry in paper.table("adjuster").items()]
    can_seize = tuple(part.name for part in made if part.kind in ("slug", "trimmer") and not part.factory_only)
    if can_seize:
        stuck = draw.pick(can_seize) if draw.chance(_SEIZED) else None
        for part in made:
            part.seized = part.name == stuck
    return made


def _adjuster(paper: Paper, name: str, entry: Mapping[str, object], best: float, draw: Draw) -> Adjuster:
    kind, moves = str(entry["kind"]), str(entry["moves"])
    factory = bool(entry.get("factory_only", False))
    if kind == "dial pointer":
        limit_khz = paper.limit("dial_khz", 1.0)
        return Adjuster(name, kind, 40.0 * limit_khz, draw.normal(0.4 * limit_khz), unit="kHz")
    if kind == "knob on shaft" and moves in ("passband_control", "preselector"):
        control = paper.tables["control"][paper.tables[moves]["control"]]
        span = float(control["high"]) - float(control["low"])
        unit = str(control.get("unit", "mark"))
        return Adjuster(name, kind, 0.4 * span, draw.normal(0.03 * span), unit=unit)
    off = 0.0 if factory else draw.normal(_SPREAD.get(moves.partition(".")[0], 1.0))
    return Adjuster(name, kind, TRAVEL_TURNS, best + off, factory_only=factory)


def trim_share(paper: Paper, frequency_hz: float) -> float:
    """The share of a tunable oscillator's frequency that one turn moves: twice the dial's limit, or the passband."""
    return min(2.0 * paper.limit("dial_khz", 1.0) * HZ, paper.narrowest_hz()) / frequency_hz
