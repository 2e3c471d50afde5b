"""Where a step's source enters and what its meter needs: what the receiver file says of the points of a hookup."""

from collections.abc import Generator, Sequence
from dataclasses import dataclass
from typing import Any

from sequences.alignment.outcome import Task
from sequences.engine.asks import connect
from sequences.engine.requests import Request
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.procedures.sweeps.source_level import find_source_level
from sequences.receiver.cautions import cautions_for
from sequences.receiver.hookups import Hookup
from sequences.receiver.model import Receiver

HZ_PER_KHZ = 1000.0


@dataclass(frozen=True, slots=True)
class Place:
    """A hookup, the source level to begin with and the highest allowed, and how long the meter takes to settle."""

    hookup: Hookup
    cautions: tuple[str, ...]
    level_dbm: float
    highest_dbm: float
    settle_s: float
    meter: str


def place_of(receiver: Receiver, hookup: Hookup) -> Place:
    """Look up what the receiver file says of a hookup's source and meter points.

    Raises:
        KeyError: the hookup names a point the receiver does not have.
    """
    source = receiver.source_points[hookup.source_to or ""]
    meter = hookup.meter_to or ""
    return Place(
        hookup=hookup,
        cautions=cautions_for(receiver, hookup),
        level_dbm=source.level_dbm,
        highest_dbm=source.highest_level_dbm,
        settle_s=receiver.meter_points[meter].settle_s,
        meter=meter,
    )


def nominal_hz(task: Task) -> float:
    """Give the frequency a step is aligned at.

    Raises:
        ValueError: the step has no such frequency.
    """
    if task.step.nominal_khz is None:
        raise ValueError(f"step {task.step.id} has no nominal frequency")
    return task.step.nominal_khz * HZ_PER_KHZ


def connect_and_hold(place: Place, frequencies_hz: Sequence[float]) -> Generator[Request, Any, HeldOutput]:
    """Have the leads connected, find a source level that suits the strongest of the frequencies, and hold the output.

    Raises:
        SequenceError: nothing arrives, or it is flattened at every level.
    """
    yield from connect(place.hookup, place.cautions)
    level = yield from find_source_level(frequencies_hz, place.level_dbm, place.highest_dbm, place.settle_s)
    return HeldOutput(level, place.highest_dbm, place.settle_s)
