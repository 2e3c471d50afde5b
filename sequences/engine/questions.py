"""What a person can be asked, each question with its own type; and the word and particulars it has in JSON.

A procedure asks with one of these; whoever answers, remembers or does it looks at the type. In records and over HTTP a
question is a word, a subject and particulars, and only this module knows how the two belong together.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Setting = str | float

CONNECT, SET, TURN, ADJUST, CHOOSE = "connect", "set", "turn", "adjust", "choose"
ROLES = ("source", "meter", "counter")
TURNS = "turns"


@dataclass(frozen=True, slots=True)
class Lead:
    """Where an instrument's lead goes, and through what; `to` is None where it is not connected."""

    to: str | None = None
    through: str | None = None


@dataclass(frozen=True, slots=True)
class ConnectLeads:
    """Move the leads, and set the controls that go with them. `cautions` are told first."""

    source: Lead = Lead()
    meter: Lead = Lead()
    counter: Lead = Lead()
    controls: Mapping[str, Setting] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()

    def leads(self) -> dict[str, Lead]:
        """Give the lead of each role."""
        return {"source": self.source, "meter": self.meter, "counter": self.counter}


@dataclass(frozen=True, slots=True)
class SetControl:
    """Set a control of the receiver."""

    control: str
    to: Setting


@dataclass(frozen=True, slots=True)
class TurnBy:
    """Turn an adjuster by so many turns, clockwise where positive; up its scale, in `unit`, for a pointer or knob."""

    adjuster: str
    turns: float
    unit: str = TURNS


@dataclass(frozen=True, slots=True)
class TurnLive:
    """Take hold of an adjuster, to be turned by the guidance that follows. `unit` is that of the gauge."""

    adjuster: str
    gauge: str
    unit: str


@dataclass(frozen=True, slots=True)
class Choose:
    """Decide, or say what was seen or heard. `particulars` are for a page that shows more than the words."""

    subject: str
    particulars: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Other:
    """A question of which nothing is known but its words: of an instrument that is a person, or of a later version."""

    action: str
    subject: str


Question = ConnectLeads | SetControl | TurnBy | TurnLive | Choose | Other


def plain_of(question: Question) -> tuple[str, str, dict[str, Any]]:
    """Give a question as word, subject and particulars."""
    match question:
        case ConnectLeads():
            leads = {role: {"to": lead.to, "through": lead.through} for role, lead in question.leads().items()}
            return CONNECT, "leads", {**leads, "controls": dict(question.controls), "cautions": list(question.cautions)}
        case SetControl():
            return SET, question.control, {"to": question.to}
        case TurnBy():
            return TURN, question.adjuster, {"turns": question.turns, "unit": question.unit}
        case TurnLive():
            return ADJUST, question.adjuster, {"gauge": question.gauge, "unit": question.unit}
        case Choose():
            return CHOOSE, question.subject, dict(question.particulars)
        case Other():
            return question.action, question.subject, {}


def question_of(action: str, subject: str, detail: Mapping[str, Any]) -> Question:
    """Give the question that a word, a subject and particulars stand for, be they of an earlier version."""
    if action == CONNECT:
        leads = {role: _lead(detail.get(role)) for role in ROLES}
        controls, cautions = detail.get("controls", {}), detail.get("cautions", ())
        return ConnectLeads(**leads, controls=dict(controls), cautions=tuple(cautions))
    if action == SET and "to" in detail:
        return SetControl(subject, detail["to"])
    if action == TURN and "turns" in detail:
        return TurnBy(subject, float(detail["turns"]), str(detail.get("unit", TURNS)))
    if action == ADJUST:
        return TurnLive(subject, str(detail.get("gauge", "")), str(detail.get("unit", "")))
    return Choose(subject, dict(detail)) if action == CHOOSE else Other(action, subject)


def _lead(plain: Mapping[str, Any] | None) -> Lead:
    return Lead() if plain is None else Lead(plain.get("to"), plain.get("through"))
