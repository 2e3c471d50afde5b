"""What a procedure asks of the person: move a lead, set a control, turn an adjuster. Structured, and in words.

The words are for people; `subject` and `detail` say the same to a page that draws it and to a robot that does it.
"""

from collections.abc import Generator, Mapping
from fractions import Fraction
from typing import Any

from sequences.engine.requests import Ask, Request
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
    leads = {
        "source": (hookup.source_to, hookup.source_through),
        "meter": (hookup.meter_to, hookup.meter_through),
        "counter": (hookup.counter_to, hookup.counter_through),
    }
    lines = [
        f"{role} to {to}, {through}" if through else f"{role} to {to}" for role, (to, through) in leads.items() if to
    ]
    detail = {role: {"to": to, "through": through} for role, (to, through) in leads.items()}
    settings = ", ".join(f"{control} {_shown(to)}" for control, to in hookup.controls.items())
    then = f"Then power on, and set {settings}." if settings else "Then power on."
    text = f"Power off. Connect the {'; the '.join(lines)}. {then}"
    particulars = {**detail, "controls": dict(hookup.controls), "cautions": list(cautions)}
    yield from ask(Ask("connect", "leads", text, detail=particulars))
    yield from set_controls(hookup.controls)


def set_controls(controls: Mapping[str, str | float]) -> Asking:
    """Have controls set, one after another."""
    for control, to in controls.items():
        yield from ask(Ask("set", control, f"Set {control} to {_shown(to)}.", detail={"to": to}))


def _shown(to: str | float) -> str:
    return to if isinstance(to, str) else f"{to:g}"


def turn(adjuster: str, turns: float, why: str, scale_unit: str | None = None) -> Generator[Request, Any, bool]:
    """Have an adjuster turned by so many turns, clockwise where positive; give whether it could be.

    For a knob on its shaft the amount is in the unit of its scale, `scale_unit`, up the scale where positive.
    """
    if scale_unit is None:
        text = f"Turn {adjuster} {_fraction(abs(turns))} {'clockwise' if turns > 0 else 'anticlockwise'}. {why}"
    else:
        way = "up" if turns > 0 else "down"
        text = f"Turn {adjuster} on its shaft by {abs(turns):.2g} {scale_unit} {way} its scale. {why}"
    answer = yield from ask(Ask("turn", adjuster, text, (DONE, CANNOT), {"turns": turns}))
    return answer == DONE


def choose(subject: str, text: str, answers: tuple[str, ...]) -> Generator[Request, Any, str]:
    """Have the person decide."""
    return (yield from ask(Ask("choose", subject, text, answers)))


NEAR_ENOUGH_TURNS = 0.0125


def _fraction(turns: float) -> str:
    """Say turns as a technician would: in eighths where that is near enough."""
    eighths = Fraction(round(8 * turns), 8)
    if abs(turns - eighths) > NEAR_ENOUGH_TURNS or not eighths:
        return f"{turns:.2g} turn" + ("s" if turns > 1 else "")
    whole, part = divmod(eighths, 1)
    said = " ".join(str(number) for number in (whole, part) if number)
    return f"{said} turn" + ("s" if eighths > 1 else "")
