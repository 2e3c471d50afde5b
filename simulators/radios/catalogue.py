"""The receivers there are, by the name their files give them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

from simulators.radios.described.paper import Paper
from simulators.radios.described.radio import Described
from simulators.radios.described.truth import tell as tell_described
from simulators.radios.millrace.radio import Millrace
from simulators.radios.millrace.truth import tell as tell_millrace
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions, Radio
from simulators.radios.skerry.radio import Skerry
from simulators.radios.skerry.truth import tell as tell_skerry


@dataclass(frozen=True, slots=True)
class Placed:
    """One receiver on the bench, and how to tell the truth about it, given where the meter's lead is."""

    radio: Radio
    tell: Callable[[str | None], dict[str, object]]


@dataclass(frozen=True, slots=True)
class Model:
    """One model, and how to place a unit of it on the bench."""

    name: str
    make: Callable[[Draw, Conditions], Placed]


def shipped_models() -> Mapping[str, Model]:
    """The two receivers of the practice bench, by their id."""
    return {Skerry.id: Model(Skerry.name, _make_skerry), Millrace.id: Model(Millrace.name, _make_millrace)}


def described_model(paper: Paper) -> tuple[str, Model]:
    """Give the id and the model of a receiver that a file describes."""

    def make(draw: Draw, conditions: Conditions) -> Placed:
        radio = Described(paper, draw, conditions)
        return Placed(radio, partial(tell_described, radio))

    return paper.id, Model(paper.name, make)


def _make_skerry(draw: Draw, conditions: Conditions) -> Placed:
    radio = Skerry(draw, conditions)
    return Placed(radio, partial(tell_skerry, radio))


def _make_millrace(draw: Draw, conditions: Conditions) -> Placed:
    radio = Millrace(draw, conditions)
    return Placed(radio, partial(tell_millrace, radio))
