"""One Skerry 7 as it comes to the bench: its parts as aged, its adjusters as someone left them, its faults."""

from collections.abc import Mapping
from dataclasses import dataclass

from simulators.physics.oscillators import WarmUp
from simulators.radios.parts import Adjuster, Choice, Control, Draw, Knob, push_coils_together
from simulators.radios.skerry.design import BANDS, FILTER_DESIGNS

_SLUGS = {
    "T1 primary": 1.2,
    "T1 secondary": 1.2,
    "T2 primary": 1.2,
    "T2 secondary": 1.2,
    "third oscillator slug": 0.6,
    "beat oscillator slug": 1.0,
    "L1": 0.06,
    "L2": 0.06,
    "L3": 0.06,
    "L4": 0.06,
    "tunable oscillator slug": 0.5,
    "crystal slug 4.5/6": 1.0,
    "crystal slug 8.5/12": 1.0,
    "crystal slug 16": 1.0,
    "crystal slug 19": 1.0,
    "crystal slug 25.5": 1.0,
}
_TRIMMERS = {
    "tunable oscillator trimmer": 0.8,
    "tunable IF trimmer": 1.5,
    "preselector antenna trimmer": 0.6,
    "preselector mixer trimmer": 0.6,
}
_CAPACITORS = ("T1 primary", "T1 secondary", "T2 primary", "T2 secondary")
_SLUG_TRAVEL = 12.0
_COUPLING_SALT = 31
_SEALED_SALT = 47
_SEALED_COIL_ERROR = 0.0003
_FILTER_NAMES = ("L1", "L2", "L3", "L4")
_MAY_SEIZE = ("T1 primary", "T2 secondary", "beat oscillator slug", "crystal slug 16", "crystal slug 19")


@dataclass(frozen=True, slots=True)
class Unit:
    """The parts of one receiver that no hand can change. Errors are shares: 0.01 is one per cent too much."""

    capacitor_error: Mapping[str, float]
    crystal_ppm: Mapping[str, float]
    crystal_circuit_error: Mapping[str, float]
    weak_crystals: frozenset[str]
    preselector_error: Mapping[str, float]
    sealed_coil_error: tuple[float, ...]
    can_coupling: Mapping[str, float]
    plate_bend_f: float
    knob_offset_marks: float
    warm_up: Mapping[str, WarmUp]
    faults: tuple[str, ...]


def draw_unit(draw: Draw) -> Unit:
    """Draw the fixed parts."""
    capacitors = {name: draw.normal(0.004) for name in _CAPACITORS}
    capacitors |= {name: draw.normal(0.002) for name in ("tunable oscillator", "tunable IF")}
    preselector = {f"{side} {band}": draw.normal(0.0008) for band in BANDS for side in ("antenna", "mixer")}
    faults = [*_drift_a_capacitor(draw, capacitors, preselector)]
    weak = frozenset({draw.pick(BANDS)} if draw.chance(0.3) else ())
    faults += [f"weak crystal, band {band}" for band in weak]
    sealed = draw.aside(_SEALED_SALT)
    couplings = {name: 1.0 + draw.normal(0.06) for name in ("T1", "T2")}
    faults += push_coils_together(draw.aside(_COUPLING_SALT), couplings)
    return Unit(
        capacitor_error=capacitors,
        crystal_ppm={band: draw.normal(3.0) for band in BANDS},
        crystal_circuit_error={band: draw.normal(0.004) for band in BANDS},
        weak_crystals=weak,
        preselector_error=preselector,
        sealed_coil_error=tuple(sealed.normal(_SEALED_COIL_ERROR) for _ in range(4)),
        can_coupling=couplings,
        plate_bend_f=draw.normal(0.03e-12),
        knob_offset_marks=draw.normal(0.1),
        warm_up=_draw_warm_up(draw),
        faults=tuple(faults),
    )


def _drift_a_capacitor(draw: Draw, capacitors: dict[str, float], preselector: dict[str, float]) -> list[str]:
    """Let one capacitor have drifted beyond what its adjuster can make good, in one receiver of four."""
    name, band = draw.pick(_CAPACITORS), draw.pick(BANDS)
    in_can, drifted = draw.chance(0.5), draw.chance(0.25)
    if not drifted:
        return []
    if in_can:
        capacitors[name] = 0.065
        return [f"drifted capacitor, {name}"]
    preselector[f"mixer {band}"] = 0.03
    return [f"drifted capacitor, preselector mixer circuit, band {band}"]


def _draw_warm_up(draw: Draw) -> dict[str, WarmUp]:
    cold_ppm = {"tunable oscillator": 260.0, "third oscillator": 200.0, "beat oscillator": 180.0, "crystal": 3.0}
    return {name: WarmUp(ppm * (1 + draw.normal(0.2)), 540.0) for name, ppm in cold_ppm.items()}


def make_controls() -> list[Control]:
    """The controls as a hand finds them."""
    return [
        Choice("band", BANDS, "4.5"),
        Knob("dial", 0.0, 500.0, 250.0, "kHz above the band edge"),
        Knob("preselector", 0.0, 10.0, 5.0, "marks"),
        Choice("selectivity", tuple(FILTER_DESIGNS), "1.6 kHz"),
        Knob("passband", -1.0, 1.0, 0.0, "marks"),
        Choice("agc", ("off", "fast", "slow"), "off"),
        Choice("beat oscillator", ("off", "on"), "off"),
    ]


def draw_adjusters(draw: Draw) -> list[Adjuster]:
    """The adjusters as someone left them."""
    slugs = [
        Adjuster(name, "slug", _SLUG_TRAVEL, draw.normal(sigma), factory_only=name in _FILTER_NAMES)
        for name, sigma in _SLUGS.items()
    ]
    trimmers = [Adjuster(name, "trimmer", _SLUG_TRAVEL, draw.normal(sigma)) for name, sigma in _TRIMMERS.items()]
    pointers = [
        Adjuster("dial pointer", "dial pointer", 20.0, draw.normal(1.2), unit="kHz"),
        Adjuster("passband knob", "knob on shaft", 0.8, draw.normal(0.06), unit="mark"),
    ]
    stuck = draw.pick(_MAY_SEIZE) if draw.chance(0.2) else None
    for slug in slugs:
        slug.seized = slug.name == stuck
    return [*slugs, *trimmers, *pointers]
