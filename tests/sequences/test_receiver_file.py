"""Receiver files: the shipped ones hold the scenario, the page describes every key, and every fault is one sentence."""

import copy
import itertools
import re
import tomllib
from collections.abc import Iterator, Mapping
from importlib import resources
from pathlib import Path

import pytest

from sequences.receiver.contradictions import contradictions
from sequences.receiver.file import ReceiverFileError, load_receiver, read_receiver, shipped_receivers
from sequences.receiver.hookups import cautions_for, hook_up
from sequences.receiver.keys import receiver_keys
from sequences.receiver.model import Receiver
from sequences.receiver.references import reference_faults
from tests.sequences.receiver_files import Tables, edited, made_up, put, shipped, shipped_tables

PAGE = (resources.files("sequences") / "receivers" / "README.md").read_text(encoding="utf-8")


def test_both_shipped_receivers_load_without_a_contradiction() -> None:
    """They are the first files a person will look at."""
    assert [receiver.id for receiver in shipped_receivers()] == ["millrace-5", "skerry-7"]
    assert all(contradictions(receiver) == () for receiver in shipped_receivers())


def test_skerry_7_has_the_points_controls_and_adjusters_of_its_scenario() -> None:
    """The names are what the simulated receiver answers to."""
    receiver = shipped("skerry-7")

    assert list(receiver.bands) == ["3.5", "5", "7", "9.5", "14", "21", "28"]
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
    assert receiver.controls["selectivity"].choices == ("0.5 kHz", "2 kHz", "4 kHz")
    assert receiver.controls["agc"].choices == ("off", "fast", "slow")
    slugs = {"crystal slug 3.5/5", "crystal slug 7/9.5", "crystal slug 14", "crystal slug 21", "crystal slug 28"}
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
        "source_point.antenna.capacitor_rating_v is missing: 130 V stand there, which the generator must never see.",
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
        [('"14" = 16800.0\n', "")],
        "conversion.first.oscillator_khz has no entry for band '14': add conversion.first.oscillator_khz.14.",
    ),
    (
        "skerry-7",
        [('"14" = 16800.0\n', '"15" = 16800.0\n')],
        "conversion.first.oscillator_khz.15 is '15', which is no band of this file: use one of '3.5', '5',",
    ),
    ("skerry-7", [('band_control = "band"\n', "")], "band_control is missing: name the control that chooses the band."),
    (
        "skerry-7",
        [('"selectivity" = "2 kHz"', '"selectivity" = "3 kHz"')],
        "controls_at_rest.selectivity is '3 kHz': use one of '0.5 kHz', '2 kHz', '4 kHz'.",
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
        [('"4 kHz" = 4.0\n', "")],
        "if.third.width_khz has no entry for '4 kHz': add it.",
    ),
    (
        "skerry-7",
        [("beat_oscillator_hz = 20.0\n", "")],
        "limit.beat_oscillator_hz is missing: the receiver has a beat oscillator, so give a number above 0.",
    ),
    (
        "skerry-7",
        [('"28" = [2.0, 5.0, 8.0]', '"28" = [2.0, 5.0, 11.0]')],
        "preselector.knob_marks.28 is 11.0: give a number from 0 to 10.",
    ),
    (
        "skerry-7",
        [('"28" = [2.0, 5.0, 8.0]', '"28" = [2.0, 5.0]')],
        "preselector.knob_marks.28 is [2.0, 5.0]: give a table by band of three knob positions:",
    ),
    (
        "skerry-7",
        [("low_khz = 7000.0", "low_khz = 7600.0")],
        "band.7.low_khz is 7600, not below high_khz, 7500: give both ends.",
    ),
    (
        "skerry-7",
        [("oscillator_khz = 410.0", "oscillator_khz = 405.0")],
        "Conversion 'third' gives 470 kHz - 405 kHz = 65 kHz, but IF 'third IF' is 60 kHz: correct one of",
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
    path = edited("skerry-7", [("oscillator_khz = 410.0", "oscillator_khz = 405.0")], tmp_path)

    assert read_receiver(path).conversions["third"].oscillator_khz == 405.0
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


def without(tables: Tables, path: str) -> Tables:
    """Give a copy without one key."""
    changed = copy.deepcopy(tables)
    *above, last = path.split("/")
    place = changed
    for part in above:
        place = place[part]
    del place[last]
    return changed


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
    """Give the fragment the page shows, set into a made-up receiver with a first IF of 455 kHz."""
    shown = tomllib.loads(PAGE.split("```toml\n")[1].split("```")[0])
    tables = made_up([455.0], ["high"], filters_in=[0])
    tables["supply"] = {"kind": "transformer", "highest_voltage_v": 180.0}
    tables["conversion"]["c0"]["gives"] = "first"
    del tables["if"]["if0"]
    del tables["source_point"]["mixer 0"]
    for table, entries in shown.items():
        tables[table] |= entries
    return tables


def test_the_worked_fragment_of_the_page_closes() -> None:
    """A 405 kHz oscillator and a 50 kHz last IF take a 455 kHz signal: common practice, no source."""
    receiver = Receiver.model_validate(worked_fragment())

    assert reference_faults(receiver) == ()
    assert contradictions(receiver) == ()


def test_the_page_quotes_what_the_check_says() -> None:
    """With the slip the page describes, word for word."""
    receiver = Receiver.model_validate(put(worked_fragment(), "conversion/second/oscillator_khz", 395.0))
    (sentence,) = contradictions(receiver)

    assert f"\n    {sentence}\n" in PAGE


def test_a_live_chassis_is_the_first_caution_of_every_hookup() -> None:
    """An isolating transformer before any earthed instrument: common practice, no source."""
    receiver = shipped("millrace-5")
    for source in receiver.source_points:
        cautions = cautions_for(receiver, hook_up(receiver, {}, source=source, meter="detector"))
        assert cautions[0].startswith("The chassis is live")
        assert "isolating transformer before any earthed instrument" in cautions[0]


@pytest.mark.parametrize("receiver_id", ["skerry-7", "millrace-5"])
def test_high_voltage_and_stored_charge_stand_at_every_hookup(receiver_id: str) -> None:
    """With the blocking capacitor's rating wherever the source meets a grid."""
    receiver = shipped(receiver_id)
    for source, point in receiver.source_points.items():
        said = " ".join(cautions_for(receiver, hook_up(receiver, {}, source=source)))
        assert "can kill" in said
        assert "stay charged" in said
        assert "local codes" in said
        if point.voltage_v:
            assert "rated 630 V" in said
            assert "The generator must never see B+." in said


def test_a_battery_set_has_no_high_voltage_to_beware_of() -> None:
    """A caution that does not apply teaches people not to read them."""
    receiver = Receiver.model_validate(made_up([455.0], ["high"]))
    said = " ".join(cautions_for(receiver, hook_up(receiver, {}, source="antenna")))

    assert "kill" not in said
    assert "chassis" not in said


def test_a_loose_pick_up_warns_of_pulling() -> None:
    """Counting must not move what is counted."""
    receiver = shipped("skerry-7")
    said = cautions_for(receiver, hook_up(receiver, {}, counter="third oscillator"))

    assert any("pulls it" in caution for caution in said)
