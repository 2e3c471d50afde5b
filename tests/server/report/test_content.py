"""What a report says of a job, whatever form it takes."""

from pathlib import Path

import pytest

from sequences.alignment.progress import StepBegun
from sequences.plan.content import WayName
from sequences.plan.not_planned import NotPlanned, sentence
from sequences.receiver.file import shipped_receiver_files
from server.errors import ReceiverListError, UnknownThing
from server.records.jobs import NewJob
from server.records.store import Store
from server.report.content import Bullets, Drawing, Drawings, Paragraph, Picture, Report, Tone, Warned
from server.report.report import make_report
from tests.sequences.receiver_files import step_count
from tests.server.report.jobs import IDENTITY, LEFT_REASON, MAKE, NOON, OWNER, SERIAL
from tests.server.report.reading import cells, facts, point, section, table, words


def test_the_receiver_is_as_its_owner_gave_it(report: Report) -> None:
    receiver = facts(report, "Receiver")

    assert (receiver["Make"], receiver["Serial"], receiver["Owner"]) == (MAKE, SERIAL, OWNER)
    assert report.title == f"Alignment of {MAKE} Skerry 7, serial {SERIAL}"


def test_what_no_step_has_is_told_with_its_reason(report: Report) -> None:
    (told,) = section(report, "Not planned, and why").blocks

    assert isinstance(told, Bullets)
    assert len(told.items) == 1
    assert told.items[0].startswith("input filter: nothing that tunes it may be turned")


def test_what_would_bring_it_in_is_told_too() -> None:
    found = NotPlanned("filter.a", "a", "no source point lets the IF in", "add a source point that enters 'main'")

    assert sentence(found) == (
        "a: no source point lets the IF in. To bring it in, add a source point that enters 'main'."
    )


def test_the_bench_is_all_there(report: Report) -> None:
    bench = facts(report, "Bench")

    assert bench["Operator"] == "B. Marsh"
    assert bench["Date"] == "14 March 2026, 12:00 UTC"
    assert bench["Room temperature"] == "21.5\u00a0\u00b0C"
    assert bench["Warm-up"] == "22\u00a0minutes"
    assert bench["Calibration"].startswith("Counter against a rubidium standard")
    assert [cell.text for cell in cells(report, "Bench", "source")] == ["source", IDENTITY, "GPIB::5"]


def test_the_summary_says_what_was_off_what_was_done_and_how_it_is_now(report: Report) -> None:
    beat = point(report, "Beat oscillator")

    assert (beat.word, beat.tone) == ("Put right", Tone.PUT_RIGHT)
    assert beat.text == (
        "It was 335\u00a0Hz low, where 20\u00a0Hz either way is allowed. Its beat oscillator slug was set. "
        "It is now 4.85\u00a0Hz high."
    )


@pytest.mark.parametrize(
    ("subject", "word", "says"),
    [
        ("Warm-up", "Good as found", "drifting by 1.2\u00a0Hz"),
        ("Passband of the third IF", "Good as found", "off centre by 14.5\u202f% of its width upwards"),
        ("Third oscillator", "Part suspected", "330\u00a0Hz high"),
        ("T2, second IF", "Not measured", LEFT_REASON),
        ("Dial", "Put right", "It was at worst off its dial by 10.1\u00a0kHz, at 0 kHz"),
        ("Dial", "Put right", "5 more of its figures were beyond their limits"),
        ("Dial", "Put right", "It is now at worst off its dial by 177\u00a0Hz, at 100 kHz"),
        ("Crystal oscillator activity", "Off, left alone", "dead on band 19, where the crystal did not oscillate"),
        ("Preselector", "Not done", "It was not looked at."),
    ],
)
def test_every_step_stands_in_the_summary_with_a_word(report: Report, subject: str, word: str, says: str) -> None:
    line = point(report, subject)

    assert line.word == word
    assert says in line.text


def test_the_opening_counts_and_names_what_is_not_right(report: Report) -> None:
    opening = next(block for block in section(report, "Summary").blocks if isinstance(block, Paragraph))

    assert (
        f"{step_count('skerry-7')} steps: 2 good as found and left alone, 2 off and put right, 1 off and left alone"
        in opening.text
    )
    assert "Not right now: Third oscillator; Crystal oscillator activity." in opening.text


def test_a_suspected_part_is_said_plainly_at_the_top_and_why_in_its_step(report: Report) -> None:
    warned = next(block for block in section(report, "Summary").blocks if isinstance(block, Warned))
    why = next(block for block in section(report, "Third oscillator").blocks if isinstance(block, Bullets))

    assert warned.heading == "A part may have failed or drifted"
    assert warned.items[0].startswith("Third oscillator: ")
    assert "the adjuster cannot be turned" in why.items[0]


def test_figures_stand_with_uncertainty_limit_and_verdict(report: Report) -> None:
    row = [cell.text for cell in cells(report, "Beat oscillator", "Frequency error")]

    assert row == [
        "Frequency error",
        "\u2212334.7 \u00b1 1.9\u00a0Hz",
        "+4.85 \u00b1 0.90\u00a0Hz",
        "\u00b120\u00a0Hz",
        "Was beyond its limit; now within it.",
    ]


def test_figures_side_by_side_share_a_unit(report: Report) -> None:
    row = [cell.text for cell in cells(report, "Dial", "0 kHz")]

    assert row[1:4] == ["\u221210.0500 \u00b1 0.0027\u00a0kHz", "+0.0120 \u00b1 0.0027\u00a0kHz", "\u00b11\u00a0kHz"]


def test_an_uncertainty_without_bound_is_said(report: Report) -> None:
    bend = cells(report, "Dial", "Bend at the high end", place=1)

    assert bend[1].text == "250\u00a0Hz, uncertainty unknown"


def test_what_was_turned_is_said_also_where_nobody_counted(report: Report) -> None:
    assert facts(report, "Beat oscillator")["Turned"] == "beat oscillator slug by the meter, turns not counted"
    assert facts(report, "Dial")["Turned"] == (
        "dial pointer moved down its scale by 2.5; tunable oscillator trimmer 1.31 turns clockwise"
    )
    assert facts(report, "Warm-up")["Turned"] == "nothing"


def test_a_step_that_was_measured_again_without_turning_says_why(report: Report) -> None:
    assert "other steps were adjusted" in facts(report, "Passband of the third IF")["Measured again"]
    assert "Measured again" not in facts(report, "Dial")


def test_a_figure_that_was_not_turned_is_left_as_found(report: Report) -> None:
    row = [cell.text for cell in cells(report, "Warm-up", "Drift")]

    assert row[2:] == ["left as found", "\u00b15\u00a0Hz", "Within its limit; left alone."]


def test_activities_are_a_table_by_band(report: Report) -> None:
    rows = {row[0].text: [cell.text for cell in row[1:]] for row in table(report, "Crystal oscillator activity").rows}

    assert rows["25.5"][0] == "\u22124.2358 \u00b1 0.0018\u00a0V"
    assert rows["25.5"][2] == "\u22124.2660 \u00b1 0.0049\u00a0dB"
    assert rows["19"][0] == "\u22120.2 \u00b1 1.4\u00a0\u00b5V"
    assert (rows["19"][2], rows["19"][4]) == ("none", "Beyond its limit; not adjusted.")
    assert "at least \u22126\u00a0dB" in table(report, "Crystal oscillator activity").caption


def test_the_passband_as_found_lies_over_the_passband_as_left(report: Report) -> None:
    drawings = next(
        block for block in section(report, "Passband of the third IF").blocks if isinstance(block, Drawings)
    )
    (drawing,) = drawings.drawings

    assert drawing.caption == "Passband of the third IF, 1.6 kHz"
    assert drawing.says.endswith("as found and as left.")
    assert drawing.svg.count("<polyline") == 2 + 2, "two curves, and two in the key"


def test_the_dial_is_drawn(report: Report) -> None:
    assert any(isinstance(block, Drawing) for block in section(report, "Dial").blocks)


def test_remarks_photos_and_doubts_stand_with_their_step(report: Report) -> None:
    beat, dial = section(report, "Beat oscillator"), section(report, "Dial")

    assert any(isinstance(block, Paragraph) and "The slug was loose." in block.text for block in beat.blocks)
    assert any(isinstance(block, Picture) and block.caption.startswith("dial.jpg") for block in dial.blocks)
    assert "The pick-up may pull by 2 Hz \u00b1 1 Hz." in list(words(beat))


def test_what_was_left_alone_is_listed_with_its_reason(report: Report) -> None:
    (left,) = section(report, "What was left alone, and why").blocks
    assert isinstance(left, Bullets)

    assert f"T2, second IF: {LEFT_REASON}" in left.items
    assert "Warm-up: Within its limits as found, so that nothing was turned." in left.items
    assert "Passband of the third IF: L1, L2, L3 and L4 were set in the factory and not turned." in left.items
    assert "Crystal oscillator activity: It was decided to leave it as it is." in left.items
    assert left.items[-1].startswith("Not begun: ")
    assert "; Preselector; " in left.items[-1]
    assert not any(item.startswith("Dial") for item in left.items)


def test_the_cautions_name_the_voltage_and_defer_to_local_codes(report: Report) -> None:
    said = " ".join(words(section(report, "Cautions")))

    assert "210 V" in said
    assert "local codes" in said
    assert "licensed" in said


def test_a_practice_job_says_so_and_a_real_one_does_not(report: Report, practice_report: Report) -> None:
    assert practice_report.practice.startswith("Practice")
    assert any("no real" in text or "simulated" in text for text in words(section(practice_report, "Summary")))
    assert report.practice == ""
    assert not any("practice" in text.lower() for text in words(report))


def test_a_job_that_is_not_there_is_one_sentence(store: Store) -> None:
    with pytest.raises(UnknownThing, match="no job number 2"):
        make_report(store, 2, NOON)


def test_the_file_name_is_one_for_every_file_system(report: Report) -> None:
    assert report.file_stem == "2026-03-14-skerry-7-12-34-5-job-1"


def test_a_job_that_was_only_begun_says_so(tmp_path: Path) -> None:
    store = Store(tmp_path / "record.sqlite", now=lambda: NOON)
    try:
        receiver = next(each for each in shipped_receiver_files() if each.receiver.id == "millrace-5")
        number = store.begin_job(NewJob("millrace-5", "Millrace 5", receiver.text, "bench"))
        store.note(number, StepBegun("warm-up", WayName.COUNT))
        begun = make_report(store, number, NOON)
    finally:
        store.close()

    opening = next(block for block in section(begun, "Summary").blocks if isinstance(block, Paragraph))
    assert opening.text.endswith(
        f"1 under way and {step_count('millrace-5') - 1} not done. Nothing has been judged yet."
    )
    assert point(begun, "Warm-up").text == "It was begun, and its measurement has not come to an end."
    assert facts(begun, "Receiver")["Owner"] == "not given"
    assert "The chassis can be live" in " ".join(words(section(begun, "Cautions")))


def test_a_job_whose_receiver_file_is_none_is_one_sentence(tmp_path: Path) -> None:
    store = Store(tmp_path / "record.sqlite", now=lambda: NOON)
    try:
        number = store.begin_job(NewJob("x", "X", 'id = "x"\n', "bench"))
        with pytest.raises(ReceiverListError, match="the receiver file of job 1: name is missing"):
            make_report(store, number, NOON)
    finally:
        store.close()
