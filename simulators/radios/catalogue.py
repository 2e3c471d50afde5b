"""The receivers there are, by the name their files give them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from simulators.radios.millrace.radio import Millrace
from simulators.radios.millrace.truth import tell as tell_millrace
from simulators.radios.parts import Draw, HandError
from simulators.radios.radio import Radio
from simulators.radios.skerry.radio import Skerry
from simulators.radios.skerry.truth import tell as tell_skerry


@dataclass(frozen=True, slots=True)
class Model:
    """One model: how to make a unit of it from a draw (cold or warm), and how to tell the truth about one and its meter's point."""

    name: str
    make: Callable[[Draw, bool], Radio]
    tell: Callable[[Radio, str | None], dict[str, object]]


def _tell_skerry(radio: Radio, meter_point: str | None) -> dict[str, object]:
    assert isinstance(radio, Skerry)  # noqa: S101 - the table below pairs the two
    return tell_skerry(radio, meter_point)


def _tell_millrace(radio: Radio, meter_point: str | None) -> dict[str, object]:
    assert isinstance(radio, Millrace)  # noqa: S101 - the table below pairs the two
    return tell_millrace(radio, meter_point)


MODELS: Final[Mapping[str, Model]] = MappingProxyType(
    {
        Skerry.id: Model(Skerry.name, lambda draw, cold: Skerry(draw, cold=cold), _tell_skerry),
        Millrace.id: Model(Millrace.name, lambda draw, cold: Millrace(draw, cold=cold), _tell_millrace),
    }
)


def model(receiver_id: str) -> Model:
    """Give a model.

    Raises:
        HandError: there is no such receiver here.
    """
    if receiver_id not in MODELS:
        raise HandError(f"There is no receiver {receiver_id!r} on this bench; it has {', '.join(MODELS)}.")
    return MODELS[receiver_id]
