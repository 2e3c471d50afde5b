"""What a person types at the command line becomes the exact number they meant, or one sentence."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.cli.quantities import parse_dbm, parse_hertz, parse_percent, parse_seconds


@pytest.mark.parametrize(
    ("text", "hertz"),
    [
        ("455000 Hz", 455_000.0),
        ("455kHz", 455_000.0),
        ("7.1MHz", 7_100_000.0),
        ("1.005 MHz", 1_005_000.0),
        ("4.55e5Hz", 455_000.0),
        ("60 khz", 60_000.0),
    ],
)
def test_frequencies_are_read_with_their_units(text: str, hertz: float) -> None:
    """Exact, whatever the binary fraction."""
    assert parse_hertz(text) == hertz


@pytest.mark.parametrize("text", ["", "kHz", "455 furlongs", "4.5.5", "-", "455kHz,460kHz", "nan", "455V"])
def test_anything_else_is_refused_with_an_example(text: str) -> None:
    """The sentence shows what may be written."""
    with pytest.raises(ValueError, match=r"455kHz, 7\.1MHz or 455000Hz"):
        parse_hertz(text)


@pytest.mark.parametrize(
    ("text", "likely"),
    [
        ("440", "440kHz or 440MHz"),
        ("14.2", "14.2MHz or 14.2kHz"),
        ("7100", "7100kHz or 7100MHz"),
        ("455000", "455000Hz or 455000kHz"),
    ],
)
def test_a_frequency_without_its_unit_is_refused_with_the_two_likely_meanings(text: str, likely: str) -> None:
    """A scan from 440 to 470 would sweep hertz."""
    with pytest.raises(ValueError, match=f"needs a unit: write {likely}"):
        parse_hertz(text)


def test_powers_times_and_percentages() -> None:
    """With and without their unit."""
    assert (parse_dbm("-60"), parse_dbm("-60dBm")) == (-60.0, -60.0)
    assert (parse_seconds("0.05"), parse_seconds("50ms")) == (0.05, 0.05)
    assert (parse_percent("1%"), parse_percent("0.5")) == (0.01, 0.005)


@given(st.integers(min_value=1, max_value=10**10))
def test_a_whole_number_of_hertz_is_the_same_in_any_unit(hertz: int) -> None:
    """No unit loses a hertz."""
    assert parse_hertz(f"{hertz}Hz") == hertz
    assert parse_hertz(f"{hertz // 1000}.{hertz % 1000:03d}kHz") == hertz
