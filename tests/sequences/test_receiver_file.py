"""Receiver files: the shipped ones hold the scenario, the page describes every key, and every fault is one sentence."""

import itertools
import re
import tomllib
from collections.abc import Iterator, Mapping
from importlib import resources
from pathlib import Path

import pytest

from sequences.receiver.contradictions import contradictions
from sequences.receiver.file import ReceiverFileError, load_receiver, read_receiver, shipped_receivers
from sequences.receiver.keys import receiver_keys
from sequences.receiver.model import Receiver
from sequences.receiver.references import reference_faults
from tests.sequences.receiver_files import Tables, edited, made_up, put, shipped, shipped_tables, without

PAGE = (resources.files("sequences") / "receivers" / "README.md").read_text(encoding="utf-8")


def test_both_shipped_receivers_load_without_a_contradiction() -> None:
    """They are the first files a person will look at."""
    assert [receiver.id for receiver in shipped_receivers()] == ["millrace-5", "skerry-7"]
    assert all(contradictions(receiver) == () for receiver in shipped_receivers())


def test_skerry_7_has_the_points_controls_and_adjusters_of_its_scenario() -> None:
    """The names are what the simulated receiver answers to."""
    receiver = shipped("skerry-7")

    assert list(receiver.bands) == ["4.5", "6", "8.5", "12", "16", "19", "25.5"]
    assert list(receiver.source_points) == ["antenna", "first mixer", "second mixer", "third mixer"]
    assert list(receiver.meter_points) == ["detector", "agc line", "mixer probe", "crystal oscillator test point"]
    assert list(receiver.counter_points) == [
        "crystal oscillator",
        "tunable oscillator",
        "third oscillator",
        "beat oscillator",
        "audio",
    ]
    assert set(receiver.controls) == {
        "band",
        "dial",
        "preselector",
        "selectivity",
        "passband",
        "agc",
        "beat oscillator",
    }
    assert receiver.controls["selectivity"].choices == ("0.8 kHz", "1.6 kHz", "3.2 kHz")
    assert receiver.controls["agc"].choices == ("off", "fast", "slow")
    slugs = {"crystal slug 4.5/6", "crystal slug 8.5/12", "crystal slug 16", "crystal slug 19", "crystal slug 25.5"}
    cans = {"T1 primary", "T1 secondary", "T2 primary", "T2 secondary"}
    oscillators = {"third oscillator slug", "beat oscillator slug"}
    tunable = {"tunable oscillator trimmer", "tunable oscillator slug", "dial pointer", "tunable IF trimmer"}
    front = {"preselector antenna trimmer", "preselector mixer trimmer", "passband knob"}
    factory = {"L1", "L2", "L3", "L4"}
    assert set(receiver.adjusters) == slugs | cans | oscillators | tunable | front | factory
    assert {name for name, entry in receiver.adjusters.items() if entry.factory_only} == factory


def test_millrace_5_has_the_points_controls_and_adjusters_of_its_scenario() -> None:
    """The names are what the simulated receiver answers to."""
    receiver = shipped("millrace-5")

    assert set(receiver.controls) == {"dial", "volume"}
    assert list(receiver.source_points) == ["antenna", "converter grid", "IF grid"]
    assert list(receiver.meter_points) == ["detector", "agc line", "mixer probe"]
    assert list(receiver.counter_points) == ["oscillator"]
    cans = {"can 1 primary", "can 1 secondary", "can 2 primary", "can 2 secondary"}
    gang = {"oscillator trimmer", "oscillator padder", "antenna trimmer", "dial pointer"}
    assert set(receiver.adjusters) == cans | gang
    assert receiver.supply.kind == "transformerless"


# What is wrong, and the sentence it must give. Each edit is one slip of a person who writes a file.
BROKEN: list[tuple[str, list[tuple[str, str]], str]] = [
    ("millrace-5", [('side = "high"', 'side = "hi"')], "conversion.first.side is 'hi': give 'high', 'low' or 'sum'."),
    (
        "millrace-5",
        [("width_khz = 8.0", 'width_khz = "8"')],
        "if.main.width_khz is '8': give a number of kHz above 0, or a table of such by choice of the width control.",
    ),
    (
        "millrace-5",
        [("width_khz = 8.0", "width_kz = 8.0")],
        "if.main.width_kz is not a key of this table: use one of centre_khz, name, range_khz, width_control,",
    ),
    (
        "millrace-5",
        [("width_khz = 8.0", "width_khz = -8.0")],
        "if.main.width_khz is -8.0: give a number of kHz above 0, or a table of such by choice of the width control.",
    ),
    (
        "millrace-5",
        [('kind = "transformerless"', "")],
        "supply.kind is missing: give 'transformer', 'transformerless' or 'battery'.",
    ),
    (
        "millrace-5",
        [("level_dbm = -70.0", "level_dbm = nan")],
        "level_dbm is nan: give a number of dBm from -140 to 20.",
    ),
    (
        "millrace-5",
        [("level_dbm = -70.0", "level_dbm = 60.0")],
        "level_dbm is 60.0: give a number of dBm from -140 to 20.",
    ),
    ("millrace-5", [("circuits = 2", "circuits = true")], "circuits is true: give a whole number from 1 to 20."),
    (
        "millrace-5",
        [('id = "millrace-5"', 'id = "Millrace 5"')],
        "id is 'Millrace 5': give small letters, digits and single hyphens, in quotes.",
    ),
    ("millrace-5", [("[supply]", "[suply]")], "suply is not a key of this table: use one of adjuster, band,"),
    (
        "millrace-5",
        [('moves = "filter.can 1"', 'moves = "filter.can 3"')],
        "adjuster.can 1 primary.moves is 'filter.can 3', which is no thing to move of this file: use one of 'dial',",
    ),
    (
        "millrace-5",
        [('gives = "main"', 'gives = "mian"')],
        "conversion.first.gives is 'mian', which is no IF of this file: use one of 'main'.",
    ),
    (
        "millrace-5",
        [('oscillator_kind = "tunable"', 'oscillator_kind = "fixed"')],
        "conversion.first.oscillator_khz is missing: a fixed oscillator needs it.",
    ),
    (
        "millrace-5",
        [("centre_khz = 455.0\n", "")],
        "if.main must be one of two kinds: give either centre_khz, or range_khz where it moves with the dial.",
    ),
    (
        "millrace-5",
        [("marks_khz = [600.0, 800.0", "marks_khz = [800.0, 600.0")],
        "dial.marks_khz needs two marks or more, and they must rise: list them from low to high.",
    ),
    (
        "millrace-5",
        [("1200.0, 1400.0]", "1200.0, 1700.0]")],
        "dial.marks_khz has 1700, which is off band 'broadcast': give dial settings from 540 to 1600.",
    ),
    (
        "millrace-5",
        [('after_filter = "can 1"', 'after_filter = "can 9"')],
        "source_point.IF grid.after_filter is 'can 9', which is no filter of an IF the point enters of this file:",
    ),
    (
        "millrace-5",
        [('tuned_by = "gang"', 'tuned_by = "knob"')],
        "preselector.control is missing: name the control that tunes it, or set tuned_by to 'gang'.",
    ),
    (
        "millrace-5",
        [("\ncapacitor_rating_v = 630.0\nlevel_dbm = -70.0", "\nlevel_dbm = -70.0")],
        "source_point.converter grid.capacitor_rating_v is missing: a blocking capacitor needs it.",
    ),
    (
        "millrace-5",
        [('coupling = "dummy antenna"', 'coupling = "direct"'), ("capacitor_rating_v = 630.0\n", "")],
        "source_point.antenna.capacitor_rating_v is missing: 130 V stand there, which the source must never see.",
    ),
    (
        "millrace-5",
        [('kind = "dial pointer"', 'kind = "slug"')],
        "adjuster.dial pointer is a slug that moves 'dial': let a dial pointer alone move 'dial'.",
    ),
    (
        "millrace-5",
        [('at = "preselector"\n', "")],
        "meter_point.mixer probe.at is '', which is no tuned circuit to probe of this file: use one of 'preselector'.",
    ),
    (
        "skerry-7",
        [('"16" = 19400.0\n', "")],
        "conversion.first.oscillator_khz has no entry for band '16': add conversion.first.oscillator_khz.16.",
    ),
    (
        "skerry-7",
        [('"16" = 19400.0\n', '"15" = 19400.0\n')],
        "conversion.first.oscillator_khz.15 is '15', which is no band of this file: use one of '4.5', '6',",
    ),
    ("skerry-7", [('band_control = "band"\n', "")], "band_control is missing: name the control that chooses the band."),
    (
        "skerry-7",
        [('"selectivity" = "1.6 kHz"', '"selectivity" = "3 kHz"')],
        "controls_at_rest.selectivity is '3 kHz': use one of '0.8 kHz', '1.6 kHz', '3.2 kHz'.",
    ),
    (
        "skerry-7",
        [('"passband" = 0.0', '"passband" = 2.0')],
        "controls_at_rest.passband is 2.0: give a number from -1 to 1.",
    ),
    (
        "skerry-7",
        [("high = 10.0\n", "")],
        "control.preselector must be one of two kinds: give either choices, or low and high.",
    ),
    (
        "skerry-7",
        [('takes = "second"', 'takes = "tunable"')],
        "conversion.third.takes is 'tunable', which conversion.second takes already: let the first conversion take",
    ),
    (
        "skerry-7",
        [('"3.2 kHz" = 3.2\n', "")],
        "if.third.width_khz has no entry for '3.2 kHz': add it.",
    ),
    (
        "skerry-7",
        [("beat_oscillator_hz = 20.0\n", "")],
        "limit.beat_oscillator_hz is missing: the receiver has a beat oscillator, so give a number above 0.",
    ),
    (
        "skerry-7",
        [('"25.5" = [2.0, 5.0, 8.0]', '"25.5" = [2.0, 5.0, 11.0]')],
        "preselector.knob_marks.25.5 is 11.0: give a number from 0 to 10.",
    ),
    (
        "skerry-7",
        [('"25.5" = [2.0, 5.0, 8.0]', '"25.5" = [2.0, 5.0]')],
        "preselector.knob_marks.25.5 is [2.0, 5.0]: give a table by band of three knob positions:",
    ),
    (
        "skerry-7",
        [("low_khz = 6000.0", "low_khz = 6600.0")],
        "band.6.low_khz is 6600, not below high_khz, 6500: give both ends.",
    ),
    (
        "skerry-7",
        [("oscillator_khz = 435.0", "oscillator_khz = 432.0")],
        "Conversion 'third' gives 520 kHz - 432 kHz = 88 kHz, but IF 'third IF' is 85 kHz: correct one of",
    ),
]


@pytest.mark.parametrize(("receiver_id", "edits", "sentence"), BROKEN, ids=[one[2][:50] for one in BROKEN])
def test_a_broken_file_gives_one_sentence_with_file_key_fault_and_what_is_allowed(
    receiver_id: str, edits: list[tuple[str, str]], sentence: str, tmp_path: Path
) -> None:
    """The person reads it in a terminal and must know what to do."""
    with pytest.raises(ReceiverFileError) as caught:
        load_receiver(edited(receiver_id, edits, tmp_path))

    said = str(caught.value)
    assert said.startswith("receiver.toml: ")
    assert sentence in said
    assert is_one_sentence(said)


def is_one_sentence(text: str) -> bool:
    """Tell whether a text ends as a sentence does and has no other end or line in it."""
    return text.endswith(".") and "\n" not in text and not re.search(r"\. [A-Z]", text)


def test_a_file_that_is_not_there_is_said_to_be_missing(tmp_path: Path) -> None:
    """No traceback for a mistyped name."""
    with pytest.raises(
        ReceiverFileError,
        match=r"^There is no receiver file .*nowhere\.toml: give the path of a TOML file, or the id of .*\.$",
    ):
        load_receiver(tmp_path / "nowhere.toml")


def test_a_folder_is_no_receiver_file(tmp_path: Path) -> None:
    """A path one step too short."""
    with pytest.raises(ReceiverFileError, match=r"cannot be read \(Is a directory\): give the path of a TOML file\.$"):
        load_receiver(tmp_path)


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    """A picture with the wrong name."""
    path = tmp_path / "picture.toml"
    path.write_bytes(b"\x89PNG\xff\xfe")
    with pytest.raises(ReceiverFileError, match=r"^picture\.toml is not UTF-8 text: give a TOML file\.$"):
        load_receiver(path)


def test_a_slip_in_toml_itself_is_said_with_its_line(tmp_path: Path) -> None:
    """The line is what a person looks for."""
    with pytest.raises(ReceiverFileError, match=r"^receiver\.toml is not TOML: .*line \d+, column \d+\)\.$"):
        load_receiver(edited("millrace-5", [("[dial]\n", "[dial\n")], tmp_path))


def test_a_file_that_only_contradicts_itself_can_still_be_read_for_the_check(tmp_path: Path) -> None:
    """The check prints the plan and the contradiction; work refuses the file."""
    path = edited("skerry-7", [("oscillator_khz = 435.0", "oscillator_khz = 432.0")], tmp_path)

    assert read_receiver(path).conversions["third"].oscillator_khz == 432.0
    with pytest.raises(ReceiverFileError):
        load_receiver(path)


def every_place(tables: Mapping[str, object], above: str = "") -> Iterator[str]:
    """Give the path of every key of a file."""
    for key, value in tables.items():
        if "/" in key:
            continue
        yield above + key
        if isinstance(value, Mapping):
            yield from every_place(value, f"{above}{key}/")


WRONG_VALUES: tuple[object, ...] = ("no such thing", -1, 1e9, True, [], {}, [[]], "")


@pytest.mark.parametrize("receiver_id", ["skerry-7", "millrace-5"])
def test_no_slip_anywhere_gives_anything_but_one_sentence(receiver_id: str, tmp_path: Path) -> None:
    """Leave out every key in turn, and put one wrong kind of value after another in its place."""
    tables = shipped_tables(receiver_id)
    path = tmp_path / "slip.toml"
    slips = [without(tables, place) for place in every_place(tables)]
    wrong_values = itertools.cycle(WRONG_VALUES)
    slips += [put(tables, place, next(wrong_values)) for place in every_place(tables)]
    said: list[str] = []
    for broken in slips:
        path.write_text(as_toml(broken), encoding="utf-8")
        said += refusal(path)

    assert [one for one in said if not (one.startswith("slip.toml: ") and is_one_sentence(one))] == []
    assert len(said) > 0.7 * len(slips)


def refusal(path: Path) -> list[str]:
    """Give what is said against a file, or nothing where it is good."""
    try:
        load_receiver(path)
    except ReceiverFileError as error:
        return [str(error)]
    return []


def as_toml(value: object, *, inline: bool = False) -> str:
    """Write tables as TOML; inner tables inline. For tests only."""
    if isinstance(value, Mapping):
        parts = [f"{_quoted(str(key))} = {as_toml(item, inline=True)}" for key, item in value.items()]
        return "{" + ", ".join(parts) + "}" if inline else "\n".join(parts)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(as_toml(item, inline=True) for item in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return _quoted(value) if isinstance(value, str) else repr(value)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def test_the_page_has_a_row_for_every_key_with_what_it_may_hold() -> None:
    """The page is the whole documentation of the file."""
    sections = page_sections()

    for key in receiver_keys():
        needed = "yes" if key.required else "no"
        row = f"| `{key.name}` | {needed} | {key.allowed} | "
        assert any(line.startswith(row) and len(line) > len(row) + 10 for line in sections[key.table]), (key, row)


def test_the_page_describes_no_key_that_does_not_exist() -> None:
    """A key taken out of the file goes from the page too."""
    known = {(key.table, key.name) for key in receiver_keys()}
    written = {
        (table, match[1])
        for table, lines in page_sections().items()
        for line in lines
        if (match := re.match(r"\| `(\w+)` \|", line))
    }

    assert written == known


def page_sections() -> dict[str, list[str]]:
    """Give the lines of the page under each table's heading; the file's own keys under an empty name."""
    sections: dict[str, list[str]] = {}
    for block in PAGE.split("\n### ")[1:]:
        heading, *lines = block.splitlines()
        match = re.fullmatch(r"`\[(.+)\]`", heading)
        sections[match[1] if match else ""] = lines
    return sections


def worked_fragment() -> Tables:
    """Give the fragment the page shows, set into a made-up receiver with a first IF of 700 kHz."""
    shown = tomllib.loads(PAGE.split("```toml\n")[1].split("```")[0])
    tables = made_up([700.0], ["high"], filters_in=[0])
    tables["supply"] = {"kind": "transformer", "highest_voltage_v": 180.0}
    tables["conversion"]["c0"]["gives"] = "first"
    del tables["if"]["if0"]
    del tables["source_point"]["mixer 0"]
    for table, entries in shown.items():
        tables[table] |= entries
    return tables


def test_the_worked_fragment_of_the_page_closes() -> None:
    """A 590 kHz oscillator and a 110 kHz last IF take a 700 kHz signal: common practice, no source."""
    receiver = Receiver.model_validate(worked_fragment())

    assert reference_faults(receiver) == ()
    assert contradictions(receiver) == ()


def test_the_page_quotes_what_the_check_says() -> None:
    """With the slip the page describes, word for word."""
    receiver = Receiver.model_validate(put(worked_fragment(), "conversion/second/oscillator_khz", 580.0))
    (sentence,) = contradictions(receiver)

    assert f"\n    {sentence}\n" in PAGE


def test_a_place_of_the_band_switch_may_be_one_on_which_no_crystal_runs() -> None:
    tables = shipped_tables("skerry-7")
    tables["control"]["band"]["choices"].append("direct")
    assert any("'direct'" in fault for fault in reference_faults(Receiver.model_validate(tables)))

    tables["conversion"]["first"]["activity_rest_controls"] = {"band": "direct"}

    assert list(reference_faults(Receiver.model_validate(tables))) == []
