"""A receiver made up from its file: its circuits have the widths the file gives, and the truth is its own.

What a filter's width is, and that it is flat, follows from its definition: 3 dB down at half its width on either side.
"""

from pathlib import Path

import numpy as np
import pytest

from simulators.radios.described.design import lay_out
from simulators.radios.described.paper import read_paper
from simulators.radios.described.radio import Described
from simulators.radios.described.truth import tell, tuned_khz
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions

FILES = Path(__file__).parents[1] / "sequences" / "user_files"
HARBOUR = FILES / "harbour-3.toml"


def unit(seed: int = 1, misalignment: float = 1.0) -> Described:
    """Put one on the bench."""
    return Described(read_paper(HARBOUR), Draw(seed, misalignment), Conditions(settles_at_once=True))


@pytest.mark.parametrize("circuits", [1, 2, 3, 4, 6])
def test_between_its_half_power_points_a_filter_has_the_width_that_was_asked_for(circuits: int) -> None:
    stage = lay_out(1650e3, 20e3, circuits).stage([1.0] * circuits)
    frequency_hz = np.arange(1630e3, 1670e3, 10.0)

    level = stage.gains(frequency_hz)

    passed = frequency_hz[level >= np.max(level) / np.sqrt(2)]
    assert passed[-1] - passed[0] == pytest.approx(20e3, rel=0.003)
    assert (passed[-1] + passed[0]) / 2 == pytest.approx(1650e3, abs=0.03 * 20e3)


def test_an_over_coupled_can_has_two_humps_and_a_loose_one_has_none() -> None:
    frequency_hz = np.linspace(440e3, 470e3, 301)
    levels = {
        how: lay_out(455e3, 10e3, 2, how).stage([1.0, 1.0]).gains(frequency_hz)
        for how in ("loose", "critical", "over-coupled")
    }
    humps = {how: int(np.sum(np.diff(np.sign(np.diff(level))) < 0)) for how, level in levels.items()}

    assert humps == {"loose": 1, "critical": 1, "over-coupled": 2}


def test_as_its_maker_meant_it_it_is_tuned_to_what_its_dial_says() -> None:
    radio = unit(misalignment=0.0)

    for dial_khz in (3500.0, 3750.0, 4000.0):
        assert tuned_khz(radio, dial_khz) == pytest.approx(dial_khz, abs=0.02)
    assert {one["off_turns"] for one in tell(radio, None)["adjusters"].values()} == {0.0}  # type: ignore[attr-defined]


def test_a_slug_moves_the_whole_dial_and_a_trimmer_its_high_end_most() -> None:
    """So the slug is set at the low end, and the trimmer at the high end (common practice, no source)."""
    radio = unit(misalignment=0.0)
    ends = (3500.0, 4000.0)

    def moved(adjuster: str) -> list[float]:
        radio.turn(adjuster, 1.0)
        at = [(tuned_khz(radio, dial) or 0.0) - dial for dial in ends]
        radio.turn(adjuster, -1.0)
        return at

    core, trimmer = moved("oscillator core"), moved("oscillator trimmer")
    assert abs(core[1]) < 1.2 * abs(core[0])
    assert abs(trimmer[1]) > 1.2 * abs(trimmer[0])


def test_a_seed_is_a_receiver() -> None:
    one, same, other = (tell(unit(seed), None)["adjusters"] for seed in (3, 3, 4))

    assert one == same
    assert one != other
