"""What can hurt a person or an instrument at a receiver, and where each caution comes from.

Signal words by ANSI Z535.4 and ISO 3864-2 (meanings from memory): DANGER kills or maims if it is not avoided, WARNING
can, CAUTION injures lightly, NOTICE damages things only. What can hurt is told by voltage and supply, not by the kind
of the receiver. All of it defers to local regulations and licensed practice.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from sequences.receiver.hookups import Hookup
from sequences.receiver.model import CounterPoint, Point, Receiver, SourcePoint, Supply

HAZARDOUS_V = 60.0
"""Direct voltage from which a part counts as hazardous live: IEC 61010-1, clause 6.3.1, from memory."""


class SignalWord(StrEnum):
    """How bad it is, the worst first."""

    DANGER = "DANGER"
    WARNING = "WARNING"
    CAUTION = "CAUTION"
    NOTICE = "NOTICE"


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to beware of. `source` says where it comes from."""

    word: SignalWord
    text: str
    source: str

    def __str__(self) -> str:
        """Give it as it stands on page, terminal and paper."""
        return f"{self.word}: {self.text}"


COMMON_PRACTICE = "common practice, no source"
WORK_RULES = "OSHA 29 CFR 1910.333 and 1910.335 (electrical work practices), from memory"

REGULATIONS = Caution(
    SignalWord.NOTICE,
    "Follow local codes and regulations. Do no work that you are not trained and licensed to do.",
    COMMON_PRACTICE,
)
TOOL = Caution(
    SignalWord.NOTICE,
    "Use an insulated tool that is not metal. Never force a slug: it cracks.",
    COMMON_PRACTICE,
)


def cautions_for(receiver: Receiver, hookup: Hookup) -> tuple[str, ...]:
    """Give what to beware of at a hookup: the worst first, what is particular to it before what holds at each."""
    found = [*_at_points(receiver, hookup), *_in_one_line(receiver.supply)]
    return _in_order([*found, *_of_the_file(receiver.supply)])


def general_dangers(receiver: Receiver) -> tuple[str, ...]:
    """Give what to beware of in the whole job, in full: told once, before any lead is connected."""
    supply = receiver.supply
    return _in_order(
        [*_live_chassis(supply), *_mains(supply), *_high_voltage(supply), *_of_the_file(supply), TOOL, REGULATIONS]
    )


def _of_the_file(entry: Supply | Point) -> list[Caution]:
    """Give what the file's author added."""
    return [Caution(SignalWord.WARNING, text, "the receiver file") for text in entry.cautions]


def _in_order(cautions: Iterable[Caution]) -> tuple[str, ...]:
    """Put the worst first, else as they come, and nothing twice."""
    words = list(SignalWord)
    ordered = sorted(cautions, key=lambda each: words.index(each.word))
    return tuple(dict.fromkeys(str(each) for each in ordered))


def is_hazardous(supply: Supply) -> bool:
    """Tell whether the receiver can kill: by its voltage, or because the mains come into it."""
    return supply.kind != "battery" or supply.highest_voltage_v >= HAZARDOUS_V


def _in_one_line(supply: Supply) -> list[Caution]:
    if not is_hazardous(supply):
        return [REGULATIONS]
    unplug = "Switch off" if supply.kind == "battery" else "Unplug"
    line = (
        f"{supply.highest_voltage_v:g} V on this chassis can kill. {unplug}, discharge and measure before you move a "
        "lead. Keep one hand in your pocket. Follow local codes."
    )
    live = [Caution(SignalWord.DANGER, LIVE_CHASSIS, WORK_RULES)] if supply.kind == "transformerless" else []
    return [*live, Caution(SignalWord.DANGER, line, WORK_RULES)]


LIVE_CHASSIS = (
    "The chassis can be live, switched off too. Feed the receiver from an isolating transformer before any earthed "
    "instrument is connected."
)


def _live_chassis(supply: Supply) -> list[Caution]:
    if supply.kind != "transformerless":
        return []
    told = (
        LIVE_CHASSIS,
        "Measure chassis to earth before you touch it. Knob screws and shafts can be live.",
        "A variable transformer does not isolate. Never lift an instrument's earth.",
    )
    return [Caution(SignalWord.DANGER, text, WORK_RULES) for text in told]


def _mains(supply: Supply) -> list[Caution]:
    if supply.kind == "battery":
        return []
    text = "Unplug the receiver before you open it or move a lead. Its switch is not enough: switch and fuse stay live."
    return [Caution(SignalWord.DANGER, text, WORK_RULES)]


def _high_voltage(supply: Supply) -> list[Caution]:
    if not is_hazardous(supply):
        return []
    return [
        Caution(
            SignalWord.DANGER,
            f"{supply.highest_voltage_v:g} V on this chassis can kill. Keep one hand in your pocket. Take off rings "
            "and watch. Do not work alone.",
            WORK_RULES,
        ),
        Caution(
            SignalWord.DANGER,
            "Filter capacitors stay charged. Discharge them through a resistor and measure before you touch anything.",
            COMMON_PRACTICE,
        ),
        Caution(SignalWord.CAUTION, "Valves and resistors are hot enough to burn.", COMMON_PRACTICE),
    ]


def _at_points(receiver: Receiver, hookup: Hookup) -> list[Caution]:
    used: list[tuple[str, Point]] = []
    if hookup.source_to:
        used.append((hookup.source_to, receiver.source_points[hookup.source_to]))
    if hookup.meter_to:
        used.append((hookup.meter_to, receiver.meter_points[hookup.meter_to]))
    if hookup.counter_to:
        used.append((hookup.counter_to, receiver.counter_points[hookup.counter_to]))
    return [caution for name, point in used for caution in _at_point(name, point)]


def _at_point(name: str, point: Point) -> list[Caution]:
    cautions = _of_the_file(point)
    if point.voltage_v and point.capacitor_rating_v:
        word = SignalWord.DANGER if point.voltage_v >= HAZARDOUS_V else SignalWord.NOTICE
        through = f"the {point.capacitor_rating_v:g} V capacitor"
        text = f"{name} can be at {point.voltage_v:g} V. Connect only through {through}."
        cautions.append(Caution(word, text, COMMON_PRACTICE))
    if isinstance(point, SourcePoint):
        text = "Connect the source's return lead to the chassis, close to where the signal goes in."
        cautions.append(Caution(SignalWord.NOTICE, text, COMMON_PRACTICE))
        if "signal" in point.enters and point.coupling == "direct":
            text = "Never key a transmitter on this lead: it destroys the source."
            cautions.append(Caution(SignalWord.NOTICE, text, COMMON_PRACTICE))
    if isinstance(point, CounterPoint) and point.coupling == "loose pick-up":
        text = (
            f"A pick-up that is too close to the {name} shifts its frequency. Fix an insulated wire where the count "
            "stops changing."
        )
        cautions.append(Caution(SignalWord.NOTICE, text, COMMON_PRACTICE))
    return cautions
