"""Instruments described in TOML: what is written for them, what goes over the wire, and what is refused."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from drivers.dialect import DialectError, Model, SourceDialect, Way
from drivers.dialect_files import PACKAGE_FOLDER, known_models, pick, read_dialect, shipped_models, write_dialect
from drivers.errors import SettingError, SettingNotTakenError, WrongRoleError
from drivers.levels import Into, LevelUnit
from drivers.meters import meter_on
from drivers.sources import Source, source_on
from tests.drivers.script import (
    IDENTITY,
    Asks,
    Opens,
    ScriptedTransport,
    Sends,
    expected_exchange,
    opening,
    sets,
)
from tests.fakes import FakeClock

if TYPE_CHECKING:
    from pathlib import Path

    from tests.drivers.script import Step


def opened(transport: ScriptedTransport, dialect: str, clock: FakeClock | None = None) -> Source:
    """A source that was named in a bench file."""
    clock = clock or FakeClock()
    return source_on(transport, ceiling_dbm=0.0, dialect=dialect, clock=clock.now, sleep=clock.sleep)


def generator(channel: str, load: str) -> tuple[Step, ...]:
    """How a function generator is opened: off, put into a plain sine, and off again."""
    source, output = (":SOUR2", ":OUTP2") if channel == "2" else ("", ":OUTP")
    off = (sets(f"{output} OFF"), Asks(f"{output}?", "0"))
    plain = (f"{source}:FUNC SIN", f"{output}:LOAD {load}", f"{source}:VOLT:UNIT VPP", f"{source}:VOLT:OFFS 0")
    return (*opening(), *off, *(sets(message) for message in plain), *off)


@pytest.mark.parametrize(
    ("dialect", "load", "power_dbm", "volts"),
    [
        # 0 dBm is 0.6325 V peak to peak across 50 ohm, and 10 dBm is 2 V: the tables of every function generator.
        ("function-generator-50-ohm", "50", 0.0, "0.63246"),
        ("function-generator-50-ohm", "50", -60.0, "0.00063246"),
        # Across nothing it is twice that: 6.02 dB.
        ("function-generator-open", "INF", 0.0, "1.2649"),
    ],
)
def test_a_function_generator_is_set_in_volts_peak_to_peak(
    dialect: str, load: str, power_dbm: float, volts: str
) -> None:
    """The ceiling and every figure of a run stay in dBm into 50 ohm."""
    setting = Asks(f":VOLT {volts};*OPC?;:VOLT?;:SYST:ERR?", f'1;{float(volts):.4E};0,"No error"')
    with expected_exchange(*generator("1", load), setting) as transport:
        source = opened(transport, dialect)
        source.set_power(power_dbm)


def test_a_function_generator_that_clips_its_level_is_switched_off() -> None:
    """1 mV peak to peak is the least of many: -56 dBm."""
    setting = Asks(":VOLT 0.00063246;*OPC?;:VOLT?;:SYST:ERR?", '1;1.0E-03;0,"No error"')
    with expected_exchange(*generator("1", "50"), setting, sets(":OUTP OFF")) as transport:
        source = opened(transport, "function-generator-50-ohm")
        with pytest.raises(SettingNotTakenError, match=r"told -60 dBm and says -56\.02"):
            source.set_power(-60.0)


def test_a_second_channel_has_words_of_its_own() -> None:
    """Frequency, level and output."""
    steps = (
        Asks(":SOUR2:FREQ 455000;*OPC?;:SOUR2:FREQ?;:SYST:ERR?", '1;455000;0,"No error"'),
        Asks(":SOUR2:VOLT 0.63246;*OPC?;:SOUR2:VOLT?;:SYST:ERR?", '1;0.63246;0,"No error"'),
        Asks(":OUTP2 ON;*OPC?;:OUTP2?;:SYST:ERR?", '1;1;0,"No error"'),
    )
    with expected_exchange(*generator("2", "50"), *steps) as transport:
        source = opened(transport, "function-generator-second-channel")
        source.set_frequency(455e3)
        source.set_power(0.0)
        source.set_output(True)


def test_a_generator_of_letters_without_any_answer_is_set_and_never_said_to_be_off_for_certain() -> None:
    """No name, no error queue, no answers: IEEE 488.1 alone. It settles for its dialect's time."""
    clock = FakeClock()
    steps: tuple[Step, ...] = (
        Opens(),
        Sends("*CLS"),
        *[Sends(one) for one in ("R2", "FR455000HZ", "AP-60DM", "R3", "R2")],
    )
    with expected_exchange(*steps) as transport:
        source = opened(transport, "plain-letters-source", clock)
        source.set_frequency(455e3)
        source.set_power(-60.0)
        source.set_output(True)
        report = source.make_safe()

    assert clock.slept_s == pytest.approx(0.3)
    assert not report.confirmed
    assert "cannot say whether it is: look at its output" in report.text


def test_what_the_dialect_says_is_beyond_it_is_not_sent() -> None:
    """Its range and its greatest level."""
    words = SourceDialect(lowest_hz=1e3, highest_hz=30e6, highest_dbm=-10.0)
    row = Model("Invented Works", "Thing 1", source=words)
    with expected_exchange(*opening(), sets(":OUTP OFF"), Asks(":OUTP?", "0")) as transport:
        source = source_on(transport, ceiling_dbm=0.0, models=(row,), clock=FakeClock().now)
        for wrong_hz in (999.0, 30.1e6):
            with pytest.raises(SettingError, match="outside the range"):
                source.set_frequency(wrong_hz)
        with pytest.raises(SettingError, match="more than the source can give"):
            source.set_power(-9.9)


def test_a_frequency_may_be_written_in_kilohertz_and_rounded_to_the_sources_step() -> None:
    """Here to 10 Hz: the dialect says so, or the run would be told that the source is elsewhere."""
    words = SourceDialect(frequency_hz=1e3, frequency_decimals=2, frequency_step_hz=10.0, frequency_unit="KHZ")
    row = Model("Invented Works", "Thing 1", source=words)
    setting = Asks(":FREQ 455KHZ;*OPC?;:FREQ?;:SYST:ERR?", '1;455.00;0,"No error"')
    with expected_exchange(*opening(), sets(":OUTP OFF"), Asks(":OUTP?", "0"), setting) as transport:
        source = source_on(transport, ceiling_dbm=0.0, models=(row,), clock=FakeClock().now)
        source.set_frequency(455_003.0)


def test_numbers_may_come_with_letters_before_them_and_a_decimal_comma(tmp_path: Path) -> None:
    """As old meters write them."""
    (tmp_path / "old.toml").write_text(
        'maker = "Invented Works"\nmodel = "Thing ?"\n[conversation]\nletters = true\ncomma = true\n[meter]\n'
    )
    readings = [Asks(":READ?", "NDCV+1,25E-01")] * 2
    with expected_exchange(*opening(), sets(":CONF:VOLT:DC"), *readings) as transport:
        meter = meter_on(transport, models=known_models(tmp_path), clock=FakeClock().now)

        assert meter.read_voltage() == 0.125


def test_an_instrument_without_an_error_queue_is_one_whose_dialect_says_so(tmp_path: Path) -> None:
    """Its settings are known from asking them back."""
    (tmp_path / "quiet.toml").write_text('maker = "Invented*"\nmodel = "*"\n[conversation]\nerrors = ""\n[source]\n')
    steps = (
        Opens(),
        Asks("*IDN?", IDENTITY),
        Sends("*CLS"),
        Asks("*OPC?", "1"),
        Sends(":OUTP OFF"),
        Asks("*OPC?", "1"),
        Asks(":OUTP?", "0"),
        Sends(":FREQ 455000"),
        Asks("*OPC?", "1"),
        Asks(":FREQ?", "1E6"),
    )
    with expected_exchange(*steps) as transport:
        source = source_on(transport, ceiling_dbm=0.0, models=known_models(tmp_path), clock=FakeClock().now)
        with pytest.raises(SettingNotTakenError):
            source.set_frequency(455e3)


# Files


def test_every_shipped_dialect_can_be_read_and_those_of_the_practice_bench_are_found_by_name() -> None:
    """Of *IDN?."""
    assert {model.name for model in shipped_models()} == {path.stem for path in PACKAGE_FOLDER.glob("*.toml")}
    assert pick(shipped_models(), "practice-source").roles == ("source",)


def test_the_users_own_dialects_come_first(tmp_path: Path) -> None:
    """Also where a shipped one has the same name."""
    (tmp_path / "practice-source.toml").write_text('maker = "Mine"\nmodel = "*"\n[source]\nsettle_s = 0.5\n')

    mine = pick(known_models(tmp_path), "practice-source")

    assert mine.source is not None
    assert mine.source.settle_s == 0.5
    assert known_models(tmp_path / "nowhere") == shipped_models()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[source]\nfrequenzy = ':FREQ'", "source.frequenzy is not a known key"),
        ("[source]\nlevel = 'furlong'", "source.level cannot be used"),
        ("[source]\nsettle_s = 'long'", "source.settle_s cannot be used"),
        ("[source]\nsettle_s = nan", "source.settle_s cannot be used"),
        ("maker = 'A'", "names no role"),
        ("[source", "not valid TOML"),
    ],
)
def test_a_dialect_that_cannot_be_used_is_one_sentence_with_file_and_key(tmp_path: Path, text: str, told: str) -> None:
    """So that it can be mended."""
    path = tmp_path / "wrong.toml"
    path.write_text(text)

    with pytest.raises(DialectError, match=r"wrong\.toml") as caught:
        read_dialect(path)

    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_dialect_that_is_not_there_is_one_sentence() -> None:
    """It lists those that are."""
    with pytest.raises(DialectError, match=r"no dialect 'mine'; the known ones are .*practice-meter"):
        pick(shipped_models(), "mine")


def test_a_dialect_written_is_the_dialect_read(tmp_path: Path) -> None:
    """Whatever it holds."""
    words = SourceDialect(
        frequency=":SOUR2:FREQ",
        level=LevelUnit.VOLTS_RMS,
        into=Into.OPEN,
        at_open=(':DISP "a\\b"', "*RST"),
        settle_s=0.25,
    )
    model = Model('Maker "A"', "Thing\t1", source=words)
    path = tmp_path / "mine.toml"
    path.write_text(write_dialect(model))

    read = read_dialect(path)

    assert (read.maker, read.model, read.source) == (model.maker, model.model, words)


def test_a_named_dialect_of_another_role_is_refused() -> None:
    """Named in the bench file by mistake."""
    with expected_exchange(*opening()) as transport, pytest.raises(WrongRoleError, match="it is a meter"):
        opened(transport, "practice-meter")


def test_a_way_is_a_table_too(tmp_path: Path) -> None:
    """Of configure and read, or read alone."""
    path = tmp_path / "mine.toml"
    path.write_text('[meter]\nways = { dc = [{ configure = ":FUNC DCV", read = ":FETC?" }, { read = ":MEAS?" }] }\n')

    meter = read_dialect(path).meter

    assert meter is not None
    assert meter.ways["dc"] == (Way(":FUNC DCV", ":FETC?"), Way(None, ":MEAS?"))
