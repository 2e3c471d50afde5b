"""How far each step stands from the detector, what it is called, and so which steps must come before it."""

from sequences.receiver.chain import conversions_in_order, ifs_in_order
from sequences.receiver.model import SIGNAL, Receiver
from sequences.receiver.points import filters_of, swept_ifs

WARM_UP = "warm-up"
FREQUENCY_DRIFT = "frequency-drift"
BEAT_OSCILLATOR = "beat-oscillator"
SYMMETRY = "passband-symmetry"
PRESELECTOR = "preselector"
PLACES_A_CONVERSION = 2


def if_place(receiver: Receiver, key: str) -> int:
    """Count mixers and IFs from the detector: 0 for the last IF."""
    order = ifs_in_order(receiver)
    return PLACES_A_CONVERSION * (len(order) - 1 - order.index(key))


def conversion_place(receiver: Receiver, key: str) -> int:
    """Count to the mixer in front of the IF it gives."""
    return if_place(receiver, receiver.conversions[key].gives) + 1


def antenna_place(receiver: Receiver) -> int:
    """Count to what stands before every mixer."""
    return PLACES_A_CONVERSION * len(receiver.conversions)


def filter_step(key: str) -> str:
    """Name the step of a can or of a single circuit."""
    return f"filter-{slug(key)}"


def passband_step(key: str) -> str:
    """Name the step of an IF's passband."""
    return f"passband-{slug(key)}"


def conversion_step_ids(key: str) -> tuple[str, ...]:
    """Name the steps a conversion may have; which it has depends on its oscillator."""
    return (f"oscillator-{slug(key)}", f"dial-{slug(key)}", f"activity-{slug(key)}")


def steps_of_filters(receiver: Receiver, intermediate: str) -> tuple[str, ...]:
    """Name the steps of the cans and single circuits of an IF."""
    return tuple(filter_step(key) for key in filters_of(receiver, intermediate))


def steps_after_if(receiver: Receiver, intermediate: str) -> tuple[str, ...]:
    """Name the steps that a measurement in an IF rests on: those of all conversions and IFs after it."""
    order = ifs_in_order(receiver)
    names: list[str] = []
    for place, key in enumerate(conversions_in_order(receiver)):
        if place > order.index(intermediate):
            names += conversion_step_ids(key)
            names += steps_on_if(receiver, receiver.conversions[key].gives)
    return tuple(names)


def steps_on_if(receiver: Receiver, intermediate: str) -> tuple[str, ...]:
    """Name the steps that align an IF itself."""
    passband = (passband_step(intermediate),) if intermediate in swept_ifs(receiver) else ()
    return (*steps_of_filters(receiver, intermediate), *passband)


def steps_before_mixer(receiver: Receiver, conversion: str) -> tuple[str, ...]:
    """Name the steps that a measurement through a mixer rests on: its IF and everything after."""
    gives = receiver.conversions[conversion].gives
    return (*steps_on_if(receiver, gives), *steps_after_if(receiver, gives))


def every_conversion_step(receiver: Receiver) -> tuple[str, ...]:
    """Name the steps of every conversion and every IF: what a measurement from the antenna rests on."""
    first = next(key for key, entry in receiver.conversions.items() if entry.takes == SIGNAL)
    return (*conversion_step_ids(first), *steps_before_mixer(receiver, first))


def slug(text: str) -> str:
    """Write a key so that it fits in an id."""
    return "".join(letter if letter.isalnum() else "-" for letter in text.lower())
