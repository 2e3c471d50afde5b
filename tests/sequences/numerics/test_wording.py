"""Figures in sentences, against the examples of the guide to the expression of uncertainty."""

import pytest

from sequences.numerics.figures import Estimate
from sequences.numerics.wording import Wording, in_unit, say_db, say_hz, say_volts


@pytest.mark.parametrize(
    ("say", "figure", "told"),
    [
        # JCGM 100:2008, 7.2.4: a mass of 100.021 47 g with 0.35 mg and 9 degrees of freedom is given with 0.79 mg
        (in_unit("g"), Estimate(100.02147, 0.00035, 9.0).for_few_repeats(), "100.02147 ± 0.00079 g"),
        # JCGM 100:2008, 7.2.6: 10.057 62 ohm with 27 mohm is to be rounded to 10.058 ohm
        (in_unit("ohm"), Estimate(10.05762, 0.027 / 1.96), "10.058 ± 0.027 ohm"),
        # the same rule by hand, 1.96 times the second
        (say_hz, Estimate(164.318, 0.463), "164.32 ± 0.91 Hz"),
        (say_hz, Estimate(-64.318, 14.63), "-64 ± 29 Hz"),
        (say_hz, Estimate(455_012.3, 23.0), "455.012 ± 0.045 kHz"),
        (say_hz, Estimate(12_345.6, 1_234.0), "12.3 ± 2.4 kHz"),
        (say_hz, Estimate(3.0, 0.0996), "3.00 ± 0.20 Hz"),
        (say_db, Estimate(-0.8383, 0.0025), "-0.8383 ± 0.0049 dB"),
        (say_volts, Estimate(0.24e-6, 0.74e-6), "0.2 ± 1.5 uV"),
        (in_unit("%"), Estimate(164.3, 146.0), "160 ± 290 %"),
    ],
)
def test_a_figure_and_its_interval_stand_in_one_unit_and_end_at_one_place(
    say: Wording, figure: Estimate, told: str
) -> None:
    assert say.known_to(figure) == told


def test_a_figure_without_uncertainty_has_none_made_up() -> None:
    assert say_hz.known_to(Estimate(12.34, 0.0)) == "12.3 Hz"
    assert say_hz.known_to(Estimate(12.34, float("inf"))) == "12.3 Hz, how well is not known,"
