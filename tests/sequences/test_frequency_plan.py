"""The frequency plan against published arithmetic, and contradictions told with theirs."""

import math

import pytest
from hypothesis import given

from sequences.kinds import alignment_plan
from sequences.plan.check_tables import check_tables, conversion_table
from sequences.receiver.chain import dial_ends, dial_setting, mid_band
from sequences.receiver.contradictions import contradictions
from sequences.receiver.frequency_plan import (
    Tuning,
    frequency_plan,
    half_if_khz,
    image_khz,
    image_rejection_db,
    injections,
    input_khz,
    product_khz,
    tuning,
)
from sequences.receiver.model import Receiver
from sequences.receiver.references import reference_faults
from sequences.receiver.windows import View, window_of
from tests.sequences.receiver_files import Tables, made_up, made_up_receivers, put, shipped, shipped_tables

# Kennedy, Electronic Communication Systems, chapter 6, image frequency and its rejection; the first two rows are its
# own example, the others the same formula recomputed. The 10 MHz rows show why a higher IF helps.
# Columns: signal kHz, IF kHz, Q, image kHz, rejection as a ratio, rejection in dB.
KENNEDY = [
    (1000.0, 455.0, 100.0, 1910.0, 138.65, 42.84),
    (25_000.0, 455.0, 100.0, 25_910.0, 7.222, 17.17),
    (600.0, 455.0, 50.0, 1510.0, 105.97, 40.50),
    (1400.0, 455.0, 50.0, 2310.0, 52.21, 34.35),
    (10_000.0, 455.0, 100.0, 10_910.0, 17.47, 24.85),
    (10_000.0, 1600.0, 100.0, 13_200.0, 56.25, 35.00),
]


@pytest.mark.parametrize(("signal", "if_", "quality", "image", "ratio", "decibels"), KENNEDY)
def test_image_and_its_rejection_are_the_published_ones(
    signal: float, if_: float, quality: float, image: float, ratio: float, decibels: float
) -> None:
    """Two IFs above the signal, weakened by sqrt(1 + Q^2 rho^2)."""
    assert image_khz("high", if_, signal + if_) == pytest.approx(image)

    rejection_db = image_rejection_db(signal, image, quality, 1)
    assert rejection_db == pytest.approx(decibels, abs=0.01)
    assert 10 ** (rejection_db / 20) == pytest.approx(ratio, rel=1e-3)


def test_two_circuits_take_off_twice_the_decibels() -> None:
    """Responses of isolated circuits multiply: common practice, no source."""
    assert image_rejection_db(1000.0, 1910.0, 100.0, 2) == pytest.approx(2 * 42.84, abs=0.02)


def test_image_of_a_low_side_oscillator_is_two_ifs_below() -> None:
    """Image = f - 2 IF with the oscillator low: Kennedy, chapter 6."""
    assert image_khz("low", 455.0, 14_000.0 - 455.0) == pytest.approx(14_000.0 - 910.0)


def test_half_if_response_of_a_broadcast_receiver() -> None:
    """At 1000 kHz with an IF of 455 kHz it lies at f + IF/2 = 1227.5 kHz, from f = (n f_osc +- IF)/m with m = n = 2."""
    assert half_if_khz("high", 1000.0, 455.0) == pytest.approx(1227.5)
    assert pytest.approx(455.0) == 2 * 1455.0 - 2 * 1227.5


def test_a_590_khz_oscillator_and_a_110_khz_last_if_take_a_700_khz_signal() -> None:
    """Common practice, no source."""
    assert input_khz("low", 110.0, 590.0) == 700.0
    assert product_khz("low", 700.0, 590.0) == 110.0


def several_conversions(second_side: str) -> Receiver:
    """Signal 14.2 MHz, first IF 9.0 MHz with the oscillator high, second IF 455 kHz."""
    tables = made_up([9000.0, 455.0], ["high", second_side])
    tables["control"]["dial"] = {"low": 14_000.0, "high": 14_400.0}
    tables["band"]["only"] = {"low_khz": 14_000.0, "high_khz": 14_400.0}
    tables["dial"]["marks_khz"] = [14_000.0, 14_200.0, 14_400.0]
    tables["conversion"]["c0"]["oscillator_range_khz"] = [23_000.0, 23_400.0]
    return Receiver.model_validate(tables)


# Worked example of two conversions: f 14.2, IF1 9.0, IF2 0.455, LO1 23.2 MHz; derived by hand, no formula of ours:
# LO2 8.545 (low): image 8.090 at the second mixer, 23.2 - 8.090 = 15.110 at the antenna.
# LO2 9.455 (high): image 9.910 there, 23.2 - 9.910 = 13.290 at the antenna.
@pytest.mark.parametrize(
    ("side", "second_oscillator", "image", "at_antenna"),
    [("low", 8545.0, 8090.0, 15_110.0), ("high", 9455.0, 9910.0, 13_290.0)],
)
def test_second_image_is_carried_back_to_the_antenna(
    side: str, second_oscillator: float, image: float, at_antenna: float
) -> None:
    """What reaches the second mixer as an image came in on another frequency at the antenna."""
    receiver = several_conversions(side)
    first, second = tuning(receiver, dial_setting(receiver, "only", 14_200.0)).stages

    assert (first.oscillator_khz, first.gives_khz, first.image_khz) == pytest.approx((23_200.0, 9000.0, 32_200.0))
    assert second.oscillator_khz == pytest.approx(second_oscillator)
    assert (second.image_khz, second.image_on_dial_khz) == pytest.approx((image, at_antenna))


@pytest.mark.parametrize(("second_side", "inverted"), [("low", True), ("high", False)])
def test_an_odd_number_of_high_side_conversions_swaps_the_sidebands(second_side: str, inverted: bool) -> None:
    """Each high-side conversion turns the spectrum over once: common practice, no source."""
    receiver = several_conversions(second_side)

    assert all(one.inverted is inverted for one in frequency_plan(receiver))


def test_sum_mixing_keeps_the_spectrum_and_has_its_image_two_oscillators_up() -> None:
    """3.5 MHz and 5.5 MHz give 9 MHz; so do 14.5 MHz less 5.5 MHz. Common practice, no source."""
    assert product_khz("sum", 3500.0, 5500.0) == 9000.0
    assert image_khz("sum", 9000.0, 5500.0) == 14_500.0
    assert not tuning_of("sum").stages[0].turns_over


def tuning_of(side: str) -> Tuning:
    """Tune a one-conversion receiver with a 9 MHz IF to mid-band."""
    receiver = Receiver.model_validate(made_up([9000.0], [side]))
    return tuning(receiver, mid_band(receiver, "only"))


def test_the_skerry_7_reads_as_its_makers_meant_at_every_mark() -> None:
    """Its scenario: crystal = low edge + 3400, tunable oscillator = tunable IF + 520, third 435: all in kHz."""
    receiver = shipped("skerry-7")
    plan = frequency_plan(receiver)

    assert len(plan) == 7 * 6
    for line in plan:
        first, second, third = line.stages
        low_edge = line.setting.signal_khz - line.setting.dial_khz
        assert first.oscillator_khz == low_edge + 3400.0
        assert first.gives_khz == 3400.0 - line.setting.dial_khz
        assert second.oscillator_khz == first.gives_khz + 520.0
        assert (third.takes_khz, third.oscillator_khz, third.gives_khz) == (520.0, 435.0, 85.0)
        assert not line.inverted


def test_every_injection_point_has_its_frequency_on_every_band() -> None:
    """What a point may take moves with the dial where the tunable IF does."""
    receiver = shipped("skerry-7")
    low, high = dial_ends(receiver, "25.5")

    at_low = {(one.point, one.what): one.frequency_khz for one in injections(receiver, low)}
    at_high = {(one.point, one.what): one.frequency_khz for one in injections(receiver, high)}
    assert at_low == {
        ("antenna", "signal"): 25_500.0,
        ("first mixer", "signal"): 25_500.0,
        ("first mixer", "tunable"): 3400.0,
        ("second mixer", "tunable"): 3400.0,
        ("second mixer", "second"): 520.0,
        ("third mixer", "second"): 520.0,
        ("third mixer", "third"): 85.0,
    }
    assert at_high["first mixer", "tunable"] == 2900.0
    assert at_high["antenna", "signal"] == 26_000.0


def test_cans_of_the_skerry_7_are_seen_through_the_narrower_85_khz_filter() -> None:
    """9 kHz cans behind a 3.2 kHz filter: a sweep would show the filter."""
    receiver = shipped("skerry-7")

    for can in ("filter.T1", "filter.T2"):
        window = window_of(receiver, can)
        assert (window.through, window.through_khz, window.view) == ("if.third", 3.2, View.THROUGH_NARROWER)
    assert window_of(receiver, "filter.85 kHz filter").view is View.ALONE


def test_last_can_of_the_millrace_5_is_seen_alone_and_the_first_through_it() -> None:
    """With one IF, only a later can stands after a can."""
    receiver = shipped("millrace-5")

    assert window_of(receiver, "filter.can 2").view is View.ALONE
    assert window_of(receiver, "filter.can 1").through == "filter.can 2"
    assert window_of(receiver, "filter.can 1").view is View.THROUGH_WIDER


CONTRADICTIONS: list[tuple[str, dict[str, object], str]] = [
    (
        "skerry-7",
        {"conversion/third/oscillator_khz": 432.0},
        (
            "Conversion 'third' gives 520 kHz - 432 kHz = 88 kHz, but IF 'third IF' is 85 kHz: "
            "correct one of conversion.third.oscillator_khz or if.third.centre_khz."
        ),
    ),
    (
        "skerry-7",
        {"conversion/first/oscillator_khz/16": 19_450.0},
        (
            "Conversion 'first' gives 19450 kHz - 16000 kHz = 3450 kHz at the low end of band '16', but IF "
            "'tunable IF' is "
            "3400 kHz: correct one of conversion.first.oscillator_khz.16 or if.tunable.range_khz."
        ),
    ),
    (
        "millrace-5",
        {"conversion/first/oscillator_range_khz": [995.0, 2065.0]},
        (
            "Conversion 'first' gives 2065 kHz - 1600 kHz = 465 kHz at the high end of band 'broadcast', but IF "
            "'IF' is "
            "455 kHz: correct one of conversion.first.oscillator_range_khz or if.main.centre_khz."
        ),
    ),
    (
        "skerry-7",
        {"conversion/third/side": "high"},
        (
            "Conversion 'third' has its oscillator on the high side, but 435 kHz is below the 520 kHz it takes in: "
            "correct one of conversion.third.side or conversion.third.oscillator_khz."
        ),
    ),
    (
        "skerry-7",
        {"band/6/high_khz": 6400.0},
        (
            "Band '6' is 6400 kHz - 6000 kHz = 400 kHz long, but the dial's scale is 500 kHz - 0 kHz = 500 kHz: "
            "correct one of band.6.high_khz or control.dial.high."
        ),
    ),
    (
        "millrace-5",
        {"control/dial/high": 1500.0},
        (
            "Band 'broadcast' runs from 540 kHz to 1600 kHz, but the dial's scale runs from 540 kHz to 1500 kHz: "
            "correct one of band.broadcast or control.dial."
        ),
    ),
    (
        "skerry-7",
        {"filter/T1/width_khz": 7.0},
        (
            "IF 'second IF' is 9 kHz wide, but its filter 'T1' alone is only 7 kHz, 2 kHz less: "
            "correct one of if.second.width_khz or filter.T1.width_khz."
        ),
    ),
    (
        "skerry-7",
        {"beat_oscillator/centre_khz": 95.0},
        (
            "The beat oscillator is 95 kHz - 85 kHz = 10 kHz from IF 'third IF', more than its widest passband "
            "of 3.2 kHz: "
            "correct one of beat_oscillator.centre_khz or if.third.centre_khz."
        ),
    ),
    (
        "skerry-7",
        {"beat_oscillator/if": "tunable"},
        (
            "The beat oscillator stands on 85 kHz, but IF 'tunable IF' moves with the dial: "
            "correct one of beat_oscillator.if or if.tunable.range_khz."
        ),
    ),
    (
        "millrace-5",
        {"source_point/IF grid/level_dbm": 0.0},
        (
            "Source point 'IF grid' works at 0 dBm - -10 dBm = 10 dB over its highest level: "
            "correct one of source_point.IF grid.level_dbm or source_point.IF grid.highest_level_dbm."
        ),
    ),
    (
        "skerry-7",
        {"source_point/third mixer/capacitor_rating_v": 300.0},
        (
            "The capacitor at source_point.third mixer is rated 300 V, below 1.5 x 210 V = 315 V for the supply's "
            "highest voltage: "
            "correct one of source_point.third mixer.capacitor_rating_v or supply.highest_voltage_v."
        ),
    ),
    (
        "skerry-7",
        {"meter_point/mixer probe/voltage_v": 250.0},
        (
            "meter_point.mixer probe.voltage_v is 250 V, 40 V above the supply's highest voltage of 210 V: "
            "correct one of meter_point.mixer probe.voltage_v or supply.highest_voltage_v."
        ),
    ),
]


@pytest.mark.parametrize(("receiver_id", "changes", "sentence"), CONTRADICTIONS)
def test_a_contradiction_is_one_sentence_with_both_entries_and_the_arithmetic(
    receiver_id: str, changes: dict[str, object], sentence: str
) -> None:
    """One wrong number makes one sentence."""
    tables: Tables = shipped_tables(receiver_id)
    for path, value in changes.items():
        tables = put(tables, path, value)

    assert contradictions(Receiver.model_validate(tables)) == (sentence,)


def test_a_wrong_tunable_if_shows_at_both_conversions_it_stands_between() -> None:
    """Each band has a crystal of its own to correct; the second conversion is the same on all."""
    receiver = Receiver.model_validate(put(shipped_tables("skerry-7"), "if/tunable/range_khz", [3400.0, 3000.0]))
    found = contradictions(receiver)

    assert len([one for one in found if "Conversion 'first'" in one]) == 7
    assert [one for one in found if "Conversion 'second'" in one] == [
        (
            "Conversion 'second' gives 3420 kHz - 3000 kHz = 420 kHz at the high end of band '4.5', "
            "but IF 'second IF' is 520 kHz: "
            "correct one of conversion.second.oscillator_range_khz or if.second.centre_khz."
        )
    ]


@given(made_up_receivers())
def test_a_plan_made_to_close_has_no_contradiction(receiver: Receiver) -> None:
    """Whatever the number of conversions and their sides."""
    assert reference_faults(receiver) == ()
    assert contradictions(receiver) == ()


@given(made_up_receivers())
def test_image_and_signal_make_the_same_if_and_lie_evenly_about_the_oscillator(receiver: Receiver) -> None:
    """What an image is: the oscillator's product with it has the IF's frequency too."""
    for line in frequency_plan(receiver):
        for stage in line.stages:
            products = (abs(stage.image_khz - stage.oscillator_khz), stage.image_khz + stage.oscillator_khz)
            assert any(math.isclose(product, stage.gives_khz, abs_tol=1e-6) for product in products)


@given(made_up_receivers())
def test_every_table_of_the_check_is_as_wide_as_its_headings(receiver: Receiver) -> None:
    """Whatever access points and adjusters there are."""
    for table in check_tables(receiver, alignment_plan(receiver)):
        assert all(len(row) == len(table.columns) for row in table.rows), table.title


def test_the_printed_plan_shows_each_sum_and_difference() -> None:
    """So that anyone can follow it."""
    table = conversion_table(shipped("millrace-5"))

    assert table.columns == ("band", "dial", "signal", "oscillator", "gives IF")
    assert table.rows[2] == ("broadcast", "1000", "1000", "1455", "1455 - 1000 = 455")
    assert table.note == "The sidebands arrive swapped: a beat falls where it would rise."
