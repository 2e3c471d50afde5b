"""One Millrace 5 as it comes to the bench: its parts as aged, its adjusters as someone left them, its faults."""

from collections.abc import Mapping
from dataclasses import dataclass

from simulators.physics.oscillators import WarmUp
from simulators.radios.millrace.design import HIGH_KHZ, LOW_KHZ
from simulators.radios.parts import Adjuster, Control, Draw, Knob, push_coils_together

WINDINGS = ("can 1 primary", "can 1 secondary", "can 2 primary", "can 2 secondary")
_TRAVEL_TURNS = 12.0
_DRIFTED = 0.065
_COUPLING_SALT = 32


@dataclass(frozen=True, slots=True)
class Unit:
    """The parts of one receiver that no hand can change. Errors are shares: 0.01 is one per cent too much."""

    capacitor_error: Mapping[str, float]
    oscillator_coil_error: float
    signal_coil_error: float
    oscillator_stray_f: float
    signal_stray_f: float
    can_coupling: Mapping[str, float]
    warm_up: WarmUp
    faults: tuple[str, ...]


def draw_unit(draw: Draw) -> Unit:
    """Draw the fixed parts."""
    capacitors = {name: draw.normal(0.006) for name in WINDINGS}
    drifted = draw.pick(WINDINGS)
    faults: tuple[str, ...] = ()
    if draw.chance(0.2):
        capacitors[drifted] = _DRIFTED
        faults = (f"drifted capacitor, {drifted}",)
    coils = draw.normal(0.004), draw.normal(0.004)
    strays_f = draw.normal(0.8e-12), draw.normal(1.0e-12)
    couplings = {name: 1.0 + draw.normal(0.08) for name in ("can 1", "can 2")}
    faults = (*faults, *push_coils_together(draw.aside(_COUPLING_SALT), couplings))
    return Unit(
        capacitor_error=capacitors,
        oscillator_coil_error=coils[0],
        signal_coil_error=coils[1],
        oscillator_stray_f=strays_f[0],
        signal_stray_f=strays_f[1],
        can_coupling=couplings,
        warm_up=WarmUp(700.0 * (1 + draw.normal(0.2)), 480.0),
        faults=faults,
    )


def make_controls() -> list[Control]:
    """The controls as a hand finds them."""
    return [Knob("dial", LOW_KHZ, HIGH_KHZ, 1000.0, "kHz"), Knob("volume", 0.0, 1.0, 1.0, "of full")]


def draw_adjusters(draw: Draw) -> list[Adjuster]:
    """The adjusters as someone left them."""
    slugs = [Adjuster(name, "slug", _TRAVEL_TURNS, draw.normal(1.2)) for name in WINDINGS]
    others = [
        Adjuster("oscillator trimmer", "trimmer", _TRAVEL_TURNS, draw.normal(1.0)),
        Adjuster("oscillator padder", "padder", _TRAVEL_TURNS, draw.normal(0.7)),
        Adjuster("antenna trimmer", "trimmer", _TRAVEL_TURNS, draw.normal(1.5)),
        Adjuster("dial pointer", "dial pointer", 60.0, draw.normal(4.0), unit="kHz"),
    ]
    stuck = draw.pick(WINDINGS) if draw.chance(0.15) else None
    for slug in slugs:
        slug.seized = slug.name == stuck
    return [*slugs, *others]
