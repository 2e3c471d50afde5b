"""The frequency plan: what every oscillator, IF and injection point should read, on every band, at every dial mark."""

import math
from dataclasses import dataclass
from typing import Literal

from sequences.receiver.chain import (
    DialSetting,
    conversions_in_order,
    dial_marks,
    for_band,
    frequency_khz,
    oscillator_khz,
)
from sequences.receiver.model import Receiver

Side = Literal["high", "low", "sum"]


@dataclass(frozen=True, slots=True)
class Stage:
    """One conversion at one dial setting, all frequencies in kHz.

    `image_khz` and `half_if_khz` stand at this mixer's own input; `image_on_dial_khz` is the frequency at the antenna
    that the conversions before turn into that image. None: no such frequency above zero.
    """

    conversion: str
    takes_khz: float
    oscillator_khz: float
    gives_khz: float
    turns_over: bool
    image_khz: float
    half_if_khz: float | None
    image_on_dial_khz: float | None


@dataclass(frozen=True, slots=True)
class Tuning:
    """The whole receiver at one dial setting.

    `inverted`: the sidebands come out swapped, and a beat falls where it would rise. `image_rejection_db` is what the
    preselector alone should take off the first image.
    """

    setting: DialSetting
    stages: tuple[Stage, ...]
    inverted: bool
    image_rejection_db: float


@dataclass(frozen=True, slots=True)
class Injection:
    """What to set the source to at one injection point. `what` is 'signal' or the key of an IF."""

    point: str
    what: str
    frequency_khz: float


def product_khz(side: Side, takes_khz: float, oscillator: float) -> float:
    """Give what a mixer makes of its input: the oscillator less it, it less the oscillator, or the two together."""
    if side == "sum":
        return takes_khz + oscillator
    return oscillator - takes_khz if side == "high" else takes_khz - oscillator


def input_khz(side: Side, gives_khz: float, oscillator: float) -> float:
    """Give the input that a mixer turns into `gives_khz`."""
    if side == "sum":
        return gives_khz - oscillator
    return oscillator - gives_khz if side == "high" else gives_khz + oscillator


def image_khz(side: Side, gives_khz: float, oscillator: float) -> float:
    """Give the other input that makes the same IF: as far from the oscillator as the wanted one, on its other side."""
    return abs(oscillator - gives_khz) if side == "low" else oscillator + gives_khz


def half_if_khz(side: Side, takes_khz: float, gives_khz: float) -> float | None:
    """Give the input half an IF towards the oscillator: its second harmonic and the oscillator's make the IF."""
    frequency = takes_khz + gives_khz / 2 if side == "high" else takes_khz - gives_khz / 2
    return frequency if frequency > 0 else None


def image_rejection_db(wanted_khz: float, image: float, loaded_q: float, circuits: int) -> float:
    """Give by how many dB equal tuned circuits weaken an image.

    One circuit takes off sqrt(1 + Q^2 rho^2), rho = f_image/f - f/f_image. An image at or below zero is not received.
    Source: Kennedy, Electronic Communication Systems, chapter 6, image frequency and its rejection.
    """
    if image <= 0:
        return math.inf
    rho = image / wanted_khz - wanted_khz / image
    return circuits * 10 * math.log10(1 + (loaded_q * rho) ** 2)


def frequency_plan(receiver: Receiver) -> tuple[Tuning, ...]:
    """Work out every dial mark of every band."""
    return tuple(tuning(receiver, setting) for band in receiver.bands for setting in dial_marks(receiver, band))


def tuning(receiver: Receiver, setting: DialSetting) -> Tuning:
    """Work out one dial setting, each conversion from the nominal frequency of what it takes."""
    stages = tuple(_stages(receiver, setting))
    preselector = receiver.preselector
    rejection = image_rejection_db(
        setting.signal_khz, stages[0].image_khz, for_band(preselector.loaded_q, setting.band), preselector.circuits
    )
    inverted = sum(stage.turns_over for stage in stages) % 2 == 1
    return Tuning(setting, stages, inverted, rejection)


def injections(receiver: Receiver, setting: DialSetting) -> tuple[Injection, ...]:
    """List what the source is set to at every injection point, for everything that may enter there."""
    return tuple(
        Injection(name, what, frequency_khz(receiver, what, setting))
        for name, point in receiver.source_points.items()
        for what in point.enters
    )


def _stages(receiver: Receiver, setting: DialSetting) -> list[Stage]:
    stages: list[Stage] = []
    before: list[tuple[Side, float]] = []
    for key in conversions_in_order(receiver):
        entry = receiver.conversions[key]
        takes = frequency_khz(receiver, entry.takes, setting)
        gives = frequency_khz(receiver, entry.gives, setting)
        oscillator = oscillator_khz(entry, setting)
        image = image_khz(entry.side, gives, oscillator)
        stages.append(
            Stage(
                conversion=key,
                takes_khz=takes,
                oscillator_khz=oscillator,
                gives_khz=gives,
                turns_over=entry.side == "high",
                image_khz=image,
                half_if_khz=half_if_khz(entry.side, takes, gives),
                image_on_dial_khz=_at_antenna(image, before),
            )
        )
        before.append((entry.side, oscillator))
    return stages


def _at_antenna(frequency: float, before: list[tuple[Side, float]]) -> float | None:
    for side, oscillator in reversed(before):
        frequency = input_khz(side, frequency, oscillator)
    return frequency if frequency > 0 else None
