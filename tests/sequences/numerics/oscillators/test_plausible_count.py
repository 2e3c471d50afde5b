"""A count that cannot be the oscillator's is told from one that is merely off."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.oscillators.plausible_count import doubt_of_count

OTHERS_HZ = {"second oscillator": 3.035e6, "third oscillator": 435e3}


@given(st.floats(1e4, 3e7), st.floats(-0.019, 0.019))
def test_what_an_adjuster_can_mend_makes_sense_whatever_else_runs(nominal_hz: float, off: float) -> None:
    """Two percent: a worn fixed oscillator may well be there (common practice, no source)."""
    assert doubt_of_count(nominal_hz * (1 + off), nominal_hz, {"other": nominal_hz * (1 + off)}) is None


@given(st.floats(1e4, 3e7), st.floats(0.11, 50.0), st.booleans())
def test_what_is_a_tenth_off_and_more_never_does(nominal_hz: float, off: float, above: bool) -> None:
    counted_hz = nominal_hz * (1 + off) if above else nominal_hz / (1 + off) ** 1.1

    assert doubt_of_count(counted_hz, nominal_hz, {}) is not None


@pytest.mark.parametrize(
    ("counted_hz", "says"),
    [
        (3.0349e6, "That is the frequency of the second oscillator."),
        (170.2e3, "That is twice what is expected"),
        (42.5e3, "That is half what is expected"),
        (2.2e6, "The lead may be on another point"),
    ],
)
def test_its_likely_cause_is_named(counted_hz: float, says: str) -> None:
    doubt = doubt_of_count(counted_hz, 85e3, OTHERS_HZ)

    assert doubt is not None
    assert "about 85 kHz is expected" in doubt
    assert says in doubt


def test_a_neighbour_in_frequency_is_told_apart() -> None:
    """4 % off: it could be this oscillator's, but it is exactly the other's."""
    assert "the other" in (doubt_of_count(455e3, 437e3, {"other": 455e3}) or "")
    assert doubt_of_count(459e3, 437e3, {"other": 455e3}) is None
