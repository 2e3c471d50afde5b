"""The spur chart against published examples, and against the arithmetic of the products themselves."""

import math

import pytest
from hypothesis import given

from sequences.plan.spur_tables import response_table, whistle_table
from sequences.receiver.chain import dial_ends, frequency_khz, mid_band, oscillator_khz
from sequences.receiver.model import Receiver
from sequences.receiver.spurs import Whistle, spurious_responses, whistles
from tests.sequences.receiver_files import made_up, made_up_receivers, shipped


def receiver_with(signal_khz: float, if_khz: float, oscillator_khz: float, side: str) -> Receiver:
    """Give a receiver of one conversion whose band is narrow about one signal."""
    tables = made_up([if_khz], [side])
    ends = [signal_khz - 10.0, signal_khz + 10.0]
    tables["control"]["dial"] = {"low": ends[0], "high": ends[1]}
    tables["band"]["only"] = {"low_khz": ends[0], "high_khz": ends[1]}
    tables["dial"]["marks_khz"] = [ends[0], signal_khz, ends[1]]
    tables["conversion"]["c0"]["oscillator_range_khz"] = [oscillator_khz - 10.0, oscillator_khz + 10.0]
    return Receiver.model_validate(tables)


def test_responses_of_the_oscillator_and_its_second_harmonic_are_the_published_ones() -> None:
    """Oscillator 10 MHz, IF 9 MHz: heard are 1 and 19 MHz, and 9, 11 and 29 MHz beside them.

    Source: kolisz.pl, Radiotechnika, Przemiana czestotliwosci, Harmoniczne oscylatora, figure 3.
    """
    receiver = receiver_with(1000.0, 9000.0, 10_000.0, "high")

    found = spurious_responses(receiver, mid_band(receiver, "only"), most_order=3)

    linear = sorted(one.antenna_khz for one in found if one.signal_harmonic == 1)
    assert linear == pytest.approx([9000.0, 11_000.0, 19_000.0, 29_000.0])


def test_names_of_the_responses_of_a_broadcast_receiver() -> None:
    """At 1000 kHz with an IF of 455 kHz: Kennedy, chapter 6, image 1910 kHz; half-IF 1227.5 kHz; the IF itself."""
    receiver = receiver_with(1000.0, 455.0, 1455.0, "high")

    named = {(one.name, round(one.antenna_khz, 3)) for one in spurious_responses(receiver, mid_band(receiver, "only"))}

    assert {("image", 1910.0), ("half-IF", 1227.5), ("IF breakthrough", 455.0)} <= named


def test_a_broadcast_receiver_whistles_at_two_and_three_times_its_if() -> None:
    """910 and 1365 kHz with an IF of 455 kHz.

    Source: Langford-Smith, Radio Designer's Handbook, 4th edition, whistles in superheterodynes; from memory.
    """
    found = whistles(shipped("millrace-5"), "broadcast")

    assert [(one.first, one.at and one.at.signal_khz) for one in found] == [((2, "IF"), 910.0), ((3, "IF"), 1365.0)]


def test_equal_circuits_before_a_mixer_are_three_decibels_down_at_half_their_width() -> None:
    """Whatever their number: cascaded tuned circuits, Terman, Radio Engineers' Handbook.

    The second image lies two second IFs off in the first IF; the IF is made four such IFs wide, so that the image
    stands on its edge. The preselector's own share is taken off by asking it of the same frequency alone.
    """
    tables = made_up([9000.0, 455.0], ["high", "low"], widths_khz=[4 * 455.0, 5.0])
    receiver = Receiver.model_validate(tables)
    setting = mid_band(receiver, "only")
    found = spurious_responses(receiver, setting)

    second = next(one for one in found if one.conversion == "c1" and one.name == "image")

    quality, signal, at = 60.0, setting.signal_khz, second.antenna_khz
    preselector_db = 10 * math.log10(1 + (quality * (at / signal - signal / at)) ** 2)
    assert second.weakened_db - preselector_db == pytest.approx(10 * math.log10(2))


@given(made_up_receivers())
def test_every_response_makes_the_if_of_its_mixer_and_none_is_the_signal(receiver: Receiver) -> None:
    """Recomputed from the product itself: m f and n oscillators, added or taken off, are the IF."""
    setting = mid_band(receiver, next(iter(receiver.bands)))
    for one in spurious_responses(receiver, setting):
        entry = receiver.conversions[one.conversion]
        gives = frequency_khz(receiver, entry.gives, setting)
        signal = one.signal_harmonic * one.mixer_khz
        oscillator = one.oscillator_harmonic * oscillator_khz(entry, setting)
        products = (signal + oscillator, abs(signal - oscillator))
        assert any(math.isclose(product, gives, abs_tol=1e-6) for product in products)
        assert not math.isclose(one.mixer_khz, frequency_khz(receiver, entry.takes, setting), abs_tol=1e-6)


@pytest.mark.parametrize("receiver_id", ["skerry-7", "millrace-5"])
def test_every_whistle_falls_where_it_is_said_to(receiver_id: str) -> None:
    """The product is made again of the frequencies at that place of the dial."""
    receiver = shipped(receiver_id)
    found = [one for band in receiver.bands for one in whistles(receiver, band)]

    assert found
    for one in found:
        assert off_khz(receiver, one) < (1e-3 if one.at else 5.0)


def off_khz(receiver: Receiver, one: Whistle) -> float:
    """Give how far a whistle is from what it is said to fall on."""
    at = one.at or dial_ends(receiver, one.band)[0]
    runs = {entry.oscillator: oscillator_khz(entry, at) for entry in receiver.conversions.values()}
    runs |= {entry.name: frequency_khz(receiver, key, at) for key, entry in receiver.ifs.items()}
    if receiver.beat_oscillator:
        runs["beat oscillator"] = receiver.beat_oscillator.centre_khz
    made = sum(times * runs[name] for times, name in (one.first, one.second or (0, one.first[1])))
    return abs(abs(made) - frequency_khz(receiver, one.falls_on, at))


def test_the_chart_says_its_order_and_lists_the_least_weakened_of_each_band() -> None:
    """Six a band at most; on the highest band the image is the worst, for its circuits are broadest there."""
    receiver = shipped("skerry-7")
    responses, own = response_table(receiver), whistle_table(receiver)

    assert "up to order 5" in responses.title
    assert "up to order 5" in own.title
    on_top = [row for row in responses.rows if row[0] == "25.5"]
    assert on_top[0][2:5] == ("32050", "image", "signal with crystal oscillator")
    assert all(sum(row[0] == band for row in responses.rows) <= 6 for band in receiver.bands)
    assert all(len(row) == len(table.columns) for table in (responses, own) for row in table.rows)
