"""Where the leads go, and what to beware of there."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from sequences.receiver.model import Point, Receiver, Supply


@dataclass(frozen=True, slots=True)
class Hookup:
    """Which lead goes to which point, through what, and how the controls stand. None: that lead is not connected."""

    source_to: str | None = None
    source_through: str | None = None
    meter_to: str | None = None
    meter_through: str | None = None
    counter_to: str | None = None
    counter_through: str | None = None
    controls: Mapping[str, str | float] = field(default_factory=dict)


def hook_up(
    receiver: Receiver,
    controls: Mapping[str, str | float],
    *,
    source: str | None = None,
    meter: str | None = None,
    counter: str | None = None,
) -> Hookup:
    """Connect the named points; each control stands as at rest unless `controls` says otherwise."""
    return Hookup(
        source_to=source,
        source_through=receiver.source_points[source].through if source else None,
        meter_to=meter,
        meter_through=receiver.meter_points[meter].through if meter else None,
        counter_to=counter,
        counter_through=receiver.counter_points[counter].through if counter else None,
        controls={**receiver.controls_at_rest, **controls},
    )


def cautions_for(receiver: Receiver, hookup: Hookup) -> tuple[str, ...]:
    """Every caution that applies to a hookup: the supply's first, then those of each point in use."""
    used: list[tuple[str, Point]] = []
    if hookup.source_to:
        used.append((hookup.source_to, receiver.source_points[hookup.source_to]))
    if hookup.meter_to:
        used.append((hookup.meter_to, receiver.meter_points[hookup.meter_to]))
    if hookup.counter_to:
        used.append((hookup.counter_to, receiver.counter_points[hookup.counter_to]))
    cautions = [*_supply_cautions(receiver.supply)]
    for name, point in used:
        cautions += _point_cautions(name, point)
    return tuple(dict.fromkeys(cautions))


def _supply_cautions(supply: Supply) -> tuple[str, ...]:
    volts = f"{supply.highest_voltage_v:g} V"
    work = "Follow local codes, and leave work you are not licensed or trained for to those who are."
    if supply.kind == "battery":
        return (*supply.cautions, work)
    high = f"{volts} B+ is on this chassis and can kill: keep one hand away, and move leads only with the power off."
    stored = "Filter capacitors stay charged: discharge them through a resistor and measure before you touch anything."
    live = (
        "The chassis is live, because there is no mains transformer: feed the receiver from an isolating transformer "
        "before any earthed instrument is connected."
    )
    first = (live,) if supply.kind == "transformerless" else ()
    return (*first, high, stored, *supply.cautions, work)


def _point_cautions(name: str, point: Point) -> list[str]:
    cautions = list(point.cautions)
    if point.voltage_v and point.capacitor_rating_v:
        cautions.append(
            f"Up to {point.voltage_v:g} V may stand at {name}: connect only through the blocking capacitor, rated "
            f"{point.capacitor_rating_v:g} V. The generator must never see B+."
        )
    if point.coupling == "loose pick-up":
        cautions.append(f"A pick-up close to the {name} pulls it: move it away until the count no longer changes.")
    return cautions
