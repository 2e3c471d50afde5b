"""Quantities by what people call them, for findings made up in tests."""

from dataclasses import replace

from sequences.kinds import QUANTITIES
from sequences.quantities import Quantity

AGAINST = "activity against band "


def called(name: str, unit: str = "") -> Quantity:
    """Give the quantity that is called so; one of its own where no kind of step has it."""
    if name.startswith(AGAINST):
        return replace(QUANTITIES["activity"], of=name.removeprefix(AGAINST))
    named = sorted((each for each in QUANTITIES.values() if each.words == name), key=lambda each: each.unit != unit)
    return replace(named[0], unit=unit) if named else Quantity(name, name, unit)
