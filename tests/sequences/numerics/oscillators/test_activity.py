"""Activity against a reference band: decibels of voltages, worked by hand."""

import pytest

from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.activity import activities


def read(**volts: float) -> dict[str, Estimate]:
    """Readings with a millivolt of uncertainty."""
    return {band.removeprefix("b"): Estimate(value, 1e-3) for band, value in volts.items()}


def test_the_reference_is_zero_and_half_the_voltage_is_six_decibels_less() -> None:
    """20 log10 2 = 6.0206 dB. More negative is stronger (common practice, no source)."""
    found = activities(read(b6=-4.0, b16=-8.0, b19=-16.0), "16")

    assert found.against_reference["16"] == Estimate(0.0, 0.0)
    assert found.against_reference["6"].value == pytest.approx(-6.0206, abs=1e-4)
    assert found.against_reference["19"].value == pytest.approx(6.0206, abs=1e-4)
    assert found.against_reference["6"].sigma == pytest.approx(8.686 * (0.25e-3**2 + 0.125e-3**2) ** 0.5, rel=1e-3)


def test_the_reference_is_itself_held_against_the_middle_of_the_others() -> None:
    """A weak reference would make every other band look strong."""
    found = activities(read(b12=-8.0, b6=-8.0, b16=-4.0, b19=-8.0), "16")

    assert found.reference_db is not None
    assert found.reference_db.value == pytest.approx(-6.0206, abs=1e-4)


def test_a_band_that_reads_nothing_has_stopped() -> None:
    """And is compared with nothing."""
    found = activities(read(b6=-0.0005, b16=-8.0), "16")

    assert found.stopped == {"6"}
    assert "6" not in found.against_reference
    assert found.reference_db is None


def test_nothing_is_compared_with_a_reference_that_has_stopped() -> None:
    """It is no yardstick."""
    found = activities(read(b6=-8.0, b16=0.0), "16")

    assert found.stopped == {"16"}
    assert found.against_reference == {}


def test_a_positive_voltage_is_no_activity() -> None:
    """The leads are the wrong way round."""
    found = activities(read(b6=8.0, b16=-8.0), "16")

    assert found.positive == {"6"}
    assert "6" not in found.against_reference


def test_the_reference_must_have_been_read() -> None:
    """One sentence says so."""
    with pytest.raises(ValueError, match="Band 16 was not read"):
        activities(read(b6=-8.0), "16")
