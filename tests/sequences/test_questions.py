"""What a person is asked, by type and in the form it has in records: one and the same question."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.engine.asks import connect, leads_of
from sequences.engine.events import Asked
from sequences.engine.questions import (
    Choose,
    ConnectLeads,
    Lead,
    Other,
    Question,
    SetControl,
    TurnBy,
    TurnLive,
    plain_of,
    question_of,
)
from sequences.engine.rehearse import PaperBench, rehearse
from sequences.engine.requests import Ask, SetPower, asking
from sequences.engine.run import Limits
from sequences.errors import LimitError
from sequences.receiver.hookups import Hookup

texts = st.text(min_size=1, max_size=20)
leads = st.builds(Lead, st.none() | texts, st.none() | texts)
settings = texts | st.floats(-1e6, 1e6)
questions: st.SearchStrategy[Question] = st.one_of(
    st.builds(ConnectLeads, leads, leads, leads, st.dictionaries(texts, settings), st.lists(texts).map(tuple)),
    st.builds(SetControl, texts, settings),
    st.builds(TurnBy, texts, st.floats(-20.0, 20.0)),
    st.builds(TurnLive, texts, texts, texts),
    st.builds(Choose, texts, st.dictionaries(texts, st.floats(-1e6, 1e6))),
)


@given(questions)
def test_a_question_kept_as_word_and_particulars_is_the_same_question(question: Question) -> None:
    asked = asking(question, "Do it.")

    assert question_of(*plain_of(question)) == question
    assert asked.question == question
    assert Asked(asked.action, asked.subject, asked.text, asked.answers, asked.detail).question == question


def test_the_form_in_records_is_what_it_always_was() -> None:
    hookup = Hookup("antenna", "50 ohm", "detector", "10 k", controls={"agc": "off"})

    assert plain_of(leads_of(hookup, ("Beware.",))) == (
        "connect",
        "leads",
        {
            "source": {"to": "antenna", "through": "50 ohm"},
            "meter": {"to": "detector", "through": "10 k"},
            "counter": {"to": None, "through": None},
            "controls": {"agc": "off"},
            "cautions": ["Beware."],
        },
    )
    assert plain_of(SetControl("dial", 455.0)) == ("set", "dial", {"to": 455.0})
    assert plain_of(TurnBy("slug", -0.5)) == ("turn", "slug", {"turns": -0.5, "unit": "turns"})
    assert plain_of(TurnBy("pointer", 2.5, "kHz")) == ("turn", "pointer", {"turns": 2.5, "unit": "kHz"})
    assert plain_of(TurnLive("slug", "level", "dB")) == ("adjust", "slug", {"gauge": "level", "unit": "dB"})


@pytest.mark.parametrize(
    ("action", "detail", "question"),
    [
        ("connect", {}, ConnectLeads()),
        ("connect", {"source": {"to": "antenna", "through": None}}, ConnectLeads(source=Lead("antenna"))),
        ("set", {}, Other("set", "x")),
        ("turn", {}, Other("turn", "x")),
        ("adjust", {}, TurnLive("x", "", "")),
        ("sing", {"to": "me"}, Other("sing", "x")),
    ],
)
def test_what_an_earlier_version_left_out_is_not_made_up(
    action: str, detail: dict[str, Any], question: Question
) -> None:
    assert question_of(action, "x", detail) == question


@pytest.mark.parametrize(("point", "allowed"), [("antenna", True), ("mixer", False), (None, False)])
def test_where_the_source_is_connected_sets_the_ceiling(point: str | None, allowed: bool) -> None:
    """Only once the leads are moved, and by the point that was asked for."""
    limits = Limits(-10.0, highest_by_point={"antenna": 0.0, "mixer": -10.0})

    def procedure() -> Any:  # noqa: ANN401 - a procedure of any outcome
        yield from connect(Hookup(point, "a lead"), ())
        yield SetPower(0.0)

    if allowed:
        requests = rehearse(procedure(), PaperBench(lambda _hz, _dbm: 0.0), limits).requests
        assert any(isinstance(request, Ask) for request in requests)
    else:
        with pytest.raises(LimitError):
            rehearse(procedure(), PaperBench(lambda _hz, _dbm: 0.0), limits)
