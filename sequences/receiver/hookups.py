"""Where the leads go, and how the controls stand."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from sequences.receiver.model import Receiver

OFF = "off"
GAIN_CONTROL_WORDS = ("agc", "avc", "gain control")
"""What a switch of the gain control is called (common practice, no source)."""


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
    """Connect the named points; controls stand as at rest unless the meter's point or `controls` says otherwise."""
    return Hookup(
        source_to=source,
        source_through=receiver.source_points[source].through if source else None,
        meter_to=meter,
        meter_through=receiver.meter_points[meter].through if meter else None,
        counter_to=counter,
        counter_through=receiver.counter_points[counter].through if counter else None,
        controls={**receiver.controls_at_rest, **(_read_with(receiver, meter) if meter else {}), **controls},
    )


def _read_with(receiver: Receiver, meter: str) -> dict[str, str | float]:
    """Say how controls stand while a meter point is read: on the AGC line nothing is read with the AGC off."""
    point = receiver.meter_points[meter]
    if point.controls or point.reads != "agc line":
        return point.controls
    control, places = gain_control_places(receiver)
    return {} if control is None or places[0] is None else {control: places[0]}


def gain_control_places(receiver: Receiver) -> tuple[str | None, tuple[str | None, ...]]:
    """Name the switch of the gain control and its places other than off; none, with one, where it is always on."""
    for name, control in receiver.controls.items():
        if any(word in name.lower() for word in GAIN_CONTROL_WORDS) and OFF in control.choices:
            places = tuple(place for place in control.choices if place != OFF)
            if places:
                return name, places
    return None, (None,)
