"""The window each circuit is seen through: the narrowest passband between it and the detector.

A sweep of the source shows a circuit only where nothing after it is narrower; otherwise it shows the window.
"""

from dataclasses import dataclass
from enum import StrEnum

from sequences.receiver.chain import ifs_in_order, mid_band, widest_khz
from sequences.receiver.model import Receiver
from sequences.receiver.preselector import preselector_width_khz


class View(StrEnum):
    """How a circuit can be seen at the detector."""

    ALONE = "alone"
    """Nothing tuned stands after it."""
    THROUGH_WIDER = "through a window as wide or wider"
    """A sweep shows both; the part that stands after it is measured first and held."""
    THROUGH_NARROWER = "through a narrower window"
    """A sweep shows the window; the circuit is found by turning its adjuster in equal steps."""


@dataclass(frozen=True, slots=True)
class Window:
    """What stands between one circuit and the detector. Widths are 3 dB widths in kHz, each at its widest setting.

    `circuit` and `through` are dotted references (`filter.T1`, `if.third`, `preselector`); None: nothing tuned.
    """

    circuit: str
    width_khz: float
    through: str | None
    through_khz: float | None
    view: View


def windows(receiver: Receiver) -> tuple[Window, ...]:
    """Say for each tuned circuit, antenna first, what it is seen through."""
    circuits = _circuits(receiver)
    return tuple(_window(circuits, place, receiver) for place in range(len(circuits)))


def window_of(receiver: Receiver, circuit: str) -> Window:
    """Say what one circuit, given as a dotted reference, is seen through.

    Raises:
        KeyError: the receiver has no such circuit.
    """
    return {window.circuit: window for window in windows(receiver)}[circuit]


def window_name(receiver: Receiver, reference: str) -> str:
    """Name in words what a dotted reference of a window points at: `if.third` is the third IF."""
    kind, _, key = reference.partition(".")
    if kind == "if":
        return f"the {receiver.ifs[key].name}"
    return key or f"the {kind}"


def _circuits(receiver: Receiver) -> list[tuple[str, str | None, float]]:
    """List every circuit with its IF and its own width in kHz, in the order the signal meets them."""
    band = next(iter(receiver.bands))
    circuits: list[tuple[str, str | None, float]] = [
        ("preselector", None, preselector_width_khz(receiver, band, mid_band(receiver, band).signal_khz))
    ]
    for key in ifs_in_order(receiver):
        for name, entry in receiver.filters.items():
            if entry.intermediate == key:
                circuits.append((f"filter.{name}", key, entry.width_khz or widest_khz(receiver.ifs[key])))
    return circuits


def _window(circuits: list[tuple[str, str | None, float]], place: int, receiver: Receiver) -> Window:
    circuit, intermediate, width = circuits[place]
    order = ifs_in_order(receiver)
    later = order[order.index(intermediate) + 1 :] if intermediate else order
    after = [(width_khz, name) for name, own_if, width_khz in circuits[place + 1 :] if own_if == intermediate]
    after += [(widest_khz(receiver.ifs[key]), f"if.{key}") for key in later]
    if not after:
        return Window(circuit, width, None, None, View.ALONE)
    through_khz, through = min(after)
    view = View.THROUGH_NARROWER if through_khz < width else View.THROUGH_WIDER
    return Window(circuit, width, through, through_khz, view)
