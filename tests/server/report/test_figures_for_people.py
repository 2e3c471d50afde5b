"""Rounding and units. Two digits of the uncertainty: GUM (JCGM 100:2008), 7.2.6, whose example is the first."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.figures import Estimate
from server.report.quantities import (
    Scale,
    round_to_two,
    round_up,
    say_estimate,
    say_in_words,
    say_plain,
    say_size,
    scale_for,
)

HZ, KHZ = Scale(1.0, "Hz"), Scale(1e-3, "kHz")


@pytest.mark.parametrize(
    ("value", "sigma", "scale", "text"),
    [
        (10.05762, 0.027 / 1.96, Scale(1.0, "\u03a9"), "10.058 \u00b1 0.027\u00a0\u03a9"),
        (60029.7170, 0.4857, KHZ, "60.02972 \u00b1 0.00095\u00a0kHz"),
        (335.4, 123.0, HZ, "340 \u00b1 240\u00a0Hz"),
        (0.12345, 0.0996, HZ, "0.12 \u00b1 0.20\u00a0Hz"),
        (-3e-10, 0.26, HZ, "0.00 \u00b1 0.51\u00a0Hz"),
        (-23.5766, 0.458, HZ, "\u221223.58 \u00b1 0.90\u00a0Hz"),
        (12.0, 0.0, HZ, "12\u00a0Hz"),
        (12.0, float("inf"), HZ, "12\u00a0Hz, uncertainty unknown"),
    ],
)
def test_a_figure_is_given_to_two_digits_of_its_uncertainty(
    value: float, sigma: float, scale: Scale, text: str
) -> None:
    assert say_estimate(Estimate(value, sigma), scale) == text


@given(st.floats(min_value=1e-5, max_value=1e5))
def test_rounding_keeps_two_digits_and_changes_an_uncertainty_by_less_than_a_twentieth(sigma: float) -> None:
    rounded, places = round_to_two(sigma)

    assert abs(rounded - sigma) <= 0.05 * sigma
    assert 10 <= round(rounded * 10.0**places) <= 99


@given(st.floats(min_value=1e-6, max_value=1e6))
def test_a_bound_is_rounded_up_and_never_down(size: float) -> None:
    assert size * (1 - 1e-6) <= round_up(size) <= 2.0 * size * (1 + 1e-6)


@pytest.mark.parametrize(
    ("unit", "sizes", "unit_shown"),
    [
        ("Hz", (60029.0, 30.0), "kHz"),
        ("Hz", (335.0, 30.0), "Hz"),
        ("kHz", (0.012, 0.001), "Hz"),
        ("kHz", (28259.2,), "kHz"),
        ("V", (0.0023,), "mV"),
        ("V", (), "V"),
        ("% of the 3 dB width", (3.0,), "%"),
        ("dB", (3.0,), "dB"),
    ],
)
def test_the_unit_is_the_one_the_trade_would_use(unit: str, sizes: tuple[float, ...], unit_shown: str) -> None:
    assert scale_for(unit, sizes).unit == unit_shown


@pytest.mark.parametrize(
    ("figure", "unit", "text"),
    [
        (Estimate(-334.7, 0.98), "Hz", "335\u00a0Hz"),
        (Estimate(-334.7, 12.3), "Hz", "335\u00a0Hz"),
        (Estimate(-334.7, 123.0), "Hz", "330\u00a0Hz"),
        (Estimate(0.6, 0.98), "Hz", "less than 3\u00a0Hz"),
        (Estimate(0.0, 1.6e-5), "dB", "less than 0.01\u00a0dB"),
        (Estimate(12.0, float("inf")), "Hz", "about 12\u00a0Hz"),
        (Estimate(-10.0501, 0.0014), "kHz", "10.1\u00a0kHz"),
    ],
)
def test_a_sentence_says_a_size_no_finer_than_it_is_known(figure: Estimate, unit: str, text: str) -> None:
    assert say_size(figure, unit) == text


def test_plain_values_have_no_trailing_noughts_and_no_exponents() -> None:
    assert say_plain(20.0, "Hz") == "20\u00a0Hz"
    assert say_plain(0.000012345, "V") == "0.000012\u00a0V"
    assert say_plain(0.0, "dB") == "0\u00a0dB"
    assert say_in_words(20.0, "% of the 3 dB width") == "20\u202f% of its width"
