"""What a procedure asks of the person: move a lead, set a control, turn an adjuster. Structured, and in words.

The words are for people; the question says the same to a page that draws it and to a robot that does it.
"""

from collections.abc import Generator, Mapping
from fractions import Fraction
from typing import Any

from sequences.engine.questions import TURNS, Choose, ConnectLeads, Lead, SetControl, TurnBy
from sequences.engine.requests import Request, asking
from sequences.engine.steps import ask, set_output
from sequences.receiver.hookups import Hookup

DONE = "done"
CANNOT = "cannot"
"""The answer where an adjuster sits fast or has come to its end."""

Asking = Generator[Request, Any, None]


def connect(hookup: Hookup, cautions: tuple[str, ...]) -> Asking:
    """Have the leads moved and the controls set, with the source's output off meanwhile.

    All of it is one question, for a person does it in one go; a control is asked for by itself where whoever answers
    does not remember that it was among them.
    """
    yield from set_output(False)
    question = leads_of(hookup, cautions)
    lines = [
        f"{role} to {lead.to}, {lead.through}" if lead.through else f"{role} to {lead.to}"
        for role, lead in question.leads().items()
        if lead.to
    ]
    settings = ", ".join(f"{control} {_shown(to)}" for control, to in hookup.controls.items())
    then = f"Then power on, and set {settings}." if settings else "Then power on."
    leads = f"Connect the {'; the '.join(lines)}." if lines else "Take all leads off."
    text = f"Power off. {leads} {then}"
    yield from ask(asking(question, text))
    yield from set_controls(hookup.controls)


def leads_of(hookup: Hookup, cautions: tuple[str, ...] = ()) -> ConnectLeads:
    """Give a hookup as what is asked of a person."""
    return ConnectLeads(
        source=Lead(hookup.source_to, hookup.source_through),
        meter=Lead(hookup.meter_to, hookup.meter_through),
        counter=Lead(hookup.counter_to, hookup.counter_through),
        controls=hookup.controls,
        cautions=cautions,
    )


def set_controls(controls: Mapping[str, str | float]) -> Asking:
    """Have controls set, one after another."""
    for control, to in controls.items():
        yield from ask(asking(SetControl(control, to), f"Set {control} to {_shown(to)}."))


def say_standing(controls: Mapping[str, str | float]) -> str:
    """Say where controls stand, or should: band at 19, dial at 14.5."""
    return ", ".join(f"{control} at {_shown(to)}" for control, to in controls.items())


def _shown(to: str | float) -> str:
    return to if isinstance(to, str) else f"{to:g}"


def turn(adjuster: str, turns: float, why: str, scale_unit: str | None = None) -> Generator[Request, Any, bool]:
    """Have an adjuster turned by so many turns, clockwise where positive; give whether it could be.

    For a knob on its shaft the amount is in the unit of its scale, `scale_unit`, up the scale where positive.
    """
    if scale_unit is None:
        text = f"Turn {adjuster} {say_turn(turns)}. {why}"
    else:
        way = "up" if turns > 0 else "down"
        text = f"Turn {adjuster} on its shaft by {abs(turns):.2g} {scale_unit} {way} its scale. {why}"
    answer = yield from ask(asking(TurnBy(adjuster, turns, scale_unit or TURNS), text, (DONE, CANNOT)))
    return answer == DONE


def choose(subject: str, text: str, answers: tuple[str, ...]) -> Generator[Request, Any, str]:
    """Have the person decide."""
    return (yield from ask(asking(Choose(subject), text, answers)))


NEAR_ENOUGH_TURNS = 0.0125


def say_turn(turns: float) -> str:
    """Say how far and which way, clockwise where positive: 1 1/4 turns anticlockwise."""
    return f"{_fraction(abs(turns))} {'clockwise' if turns > 0 else 'anticlockwise'}"


def _fraction(turns: float) -> str:
    """Say turns as a technician would: in eighths where that is near enough."""
    eighths = Fraction(round(8 * turns), 8)
    if abs(turns - eighths) > NEAR_ENOUGH_TURNS or not eighths:
        return f"{turns:.2g} turn" + ("s" if turns > 1 else "")
    whole, part = divmod(eighths, 1)
    said = " ".join(str(number) for number in (whole, part) if number)
    return f"{said} turn" + ("s" if eighths > 1 else "")
