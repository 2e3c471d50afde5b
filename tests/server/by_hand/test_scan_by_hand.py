"""`peakwright scan --source person --meter person`, spoken to over pipes."""

import json

import pytest

from tests.server.by_hand.person import SET, Circuit, scan_by_hand

WORDS = ("--start", "440kHz", "--stop", "470kHz", "--level=-50", "--json")


@pytest.mark.parametrize(("centre_hz", "width_hz"), [(455_300.0, 8_000.0), (451_700.0, 6_000.0)])
def test_a_person_finds_centre_and_width_in_fifteen_readings(centre_hz: float, width_hz: float) -> None:
    talk = scan_by_hand(Circuit(centre_hz, width_hz), *WORDS)
    figures = json.loads(talk.output)
    assert talk.status == 0
    assert talk.readings == figures["readings"] <= 15
    assert figures["centre_hz"] == pytest.approx(centre_hz, abs=0.02 * width_hz)
    assert figures["width_3db_hz"] == pytest.approx(width_hz, rel=0.05)


def test_each_question_is_one_line_of_a_documented_form() -> None:
    talk = scan_by_hand(Circuit(455_000.0, 8_000.0), *WORDS, "--step", "250Hz")
    settings = [line for line in talk.asked if line.startswith("SET")]
    assert {line for line in talk.asked if not line.startswith("SET")} == {"READ V"}
    for line in settings:
        match = SET.fullmatch(line)
        assert match is not None
        assert float(match[1]) / 0.25 == pytest.approx(round(float(match[1]) / 0.25))
        assert match[2] == "-50"
    assert talk.said == ["Switch the output of the source off now."]


def test_a_reading_can_be_taken_back() -> None:
    wrong = {"given": False, "taken": False}

    def reply(line: str, usual: str) -> str:
        if line != "READ V":
            if wrong["given"] and not wrong["taken"]:
                wrong["taken"] = True
                return "back"
            return usual
        if not wrong["given"]:
            wrong["given"] = True
            return "0.9"  # far from what it is at the end of the span
        return usual

    talk = scan_by_hand(Circuit(455_300.0, 8_000.0), *WORDS, reply=reply)
    figures = json.loads(talk.output)
    assert talk.asked[0] == talk.asked[3]  # the setting that was asked for first is asked for again
    assert figures["centre_hz"] == pytest.approx(455_300.0, abs=160.0)
    assert figures["readings"] == talk.readings - 1


def test_a_slipped_decimal_point_is_questioned_and_the_question_can_be_heard_again() -> None:
    readings = {"count": 0}

    def reply(line: str, usual: str) -> str:
        if line == "READ V":
            readings["count"] += 1
            if readings["count"] == 2:
                return f"{10 * float(usual):g}" if 10 * float(usual) < 1 else "?"
            if readings["count"] == 1:
                return f"{float(usual):g}"
        return usual

    talk = scan_by_hand(Circuit(455_300.0, 8_000.0), *WORDS, reply=reply)
    assert json.loads(talk.output)["centre_hz"] == pytest.approx(455_300.0, abs=160.0)


@pytest.mark.parametrize("typed", ["much", "12 dB", ""])
def test_what_is_no_reading_is_asked_for_again(typed: str) -> None:
    wrong = {"left": 1}

    def reply(line: str, usual: str) -> str:
        if line == "READ V" and wrong["left"]:
            wrong["left"] = 0
            return typed
        return usual

    talk = scan_by_hand(Circuit(455_300.0, 8_000.0), *WORDS, reply=reply)
    assert talk.status == 0
    assert any("is not a reading in V" in line for line in talk.said)


def test_an_input_that_ends_is_told_in_one_sentence() -> None:
    def reply(line: str, usual: str) -> str | None:
        return None if line == "READ V" else usual

    talk = scan_by_hand(Circuit(455_300.0, 8_000.0), *WORDS, reply=reply)
    assert talk.status == 1
    assert talk.output == ""
    assert talk.said[-1] == "The answers ended before the scan did; 'READ V' was not answered."
