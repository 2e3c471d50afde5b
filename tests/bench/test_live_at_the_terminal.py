"""`peakwright align --practice --live`: the practice bench's own hand turns, the person reads words and types Enter."""

import os
import re
import select
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bench.talk import PATIENCE_S, Talk

TITLE = "Beat oscillator"
PRACTICE = ("skerry-7", "--practice", "--live", "--seed", "1", "--speed", "1000")


def to_taking_hold(talk: Talk) -> str:
    """Leave every step before the beat oscillator's, take what is proposed there, and give what asks to take hold."""
    while (said := talk.listen()) is not None:
        if "Take hold of" in said:
            return said
        talk.type("leave" if "Begin '" in said and f"Begin '{TITLE}" not in said else "")
    raise AssertionError(f"nobody asked to take hold: {talk.heard[-500:]}")


def read_until(talk: Talk, word: str) -> str:
    """Read what is printed meanwhile, up to a word at the beginning of a line."""
    said, deadline_s = "", time.monotonic() + PATIENCE_S
    while not re.search(rf"^{word}", said, re.MULTILINE):
        assert time.monotonic() < deadline_s, f"heard only: {said}"
        if select.select([talk._output], [], [], 1.0)[0]:  # noqa: SLF001 - there is no prompt to wait for
            said += os.read(talk._output, 65536).decode()  # noqa: SLF001 - there is no prompt to wait for
    return said


@pytest.fixture
def talk(tmp_path: Path) -> Iterator[Talk]:
    """The program on a pipe."""
    with Talk(*PRACTICE, store=tmp_path / "record.sqlite") as started:
        yield started


def test_words_lead_to_done_and_enter_ends_it(talk: Talk) -> None:
    asked = to_taking_hold(talk)
    assert "Enter begins" in asked
    talk.type("")
    words = read_until(talk, "DONE")
    assert "TURN" in words
    talk.type("")
    said = talk.listen() or ""
    assert "Turned: beat oscillator slug by the meter" in said
    talk.type("stop")
    assert talk.end()[0] == 0

    job = talk.job()
    outcomes = [note["body"]["outcome"] for note in job["notes"] if note["kind"] == "StepMeasured"]
    adjusted = next(outcome for outcome in outcomes if outcome["phase"] == "adjust")
    assert adjusted["turned"] == [{"adjuster": "beat oscillator slug", "turns": None}]
    assert not [run for run in job["runs"] if any(event["kind"] == "Guidance" for event in run["events"])]


def test_ctrl_c_while_it_is_held_stops_with_the_source_off(talk: Talk) -> None:
    to_taking_hold(talk)
    talk.type("")
    read_until(talk, "TURN|HOLD|DONE")
    talk.send(signal.SIGINT)
    status = talk.process.wait(PATIENCE_S)

    assert status != 0
    assert talk.process.stderr is not None
    assert "the source's output is off" in talk.process.stderr.read().decode()


def test_going_on_later_finds_the_slug_where_the_practice_hand_left_it(tmp_path: Path) -> None:
    with Talk(*PRACTICE, store=tmp_path / "record.sqlite") as first:
        to_taking_hold(first)
        first.type("")
        read_until(first, "DONE")
        first.type("")
        first.listen()
        first.type("stop")
        assert first.end()[0] == 0
    again = (*PRACTICE, "--job", "1", "--step", "beat-oscillator")
    with Talk(*again, store=tmp_path / "record.sqlite") as second:
        while second.listen() is not None:
            second.type("")
        assert second.end()[0] == 0
        heard = second.heard
    assert f"{TITLE}: within its limits" in heard
    assert "Take hold of" not in heard
