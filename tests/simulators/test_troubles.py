"""What the practice bench can be made to do that tidy models do not, each held against its own definition."""

import math

import numpy as np
import pytest

from simulators.physics.ladder import LadderFilter
from simulators.physics.troubles import SlowNoise, Troubles
from simulators.radios.catalogue import shipped_models
from simulators.radios.parts import Draw
from simulators.radios.radio import Conditions
from tests.sequences.numerics.dirty_worlds import crystal_ladder


def test_troubles_are_read_by_name_and_refused_by_a_sentence() -> None:
    assert Troubles.parse("lag_s=0.3, hum_db=0.1") == Troubles(lag_s=0.3, hum_db=0.1)
    for wrong, sentence in (
        ("wow=1", "no trouble 'wow'"),
        ("lag_s=x", "needs a number"),
        ("ceiling_volts=0", "above 0"),
    ):
        with pytest.raises(ValueError, match=sentence):
            Troubles.parse(wrong)


def test_slow_noise_has_its_sigma_and_as_much_in_every_octave() -> None:
    """1/f: the mean square of the change over a time grows by the same step with each doubling of it."""
    noise = SlowNoise(0.2, seed=3)
    series = []
    for _ in range(20_000):
        noise.advance(0.2)
        series.append(20 * math.log10(noise.gain))
    moved = [float(np.mean((np.array(series)[lag:] - np.array(series)[:-lag]) ** 2)) for lag in (2, 4, 8, 16, 32)]
    steps = np.diff(moved)
    assert np.std(series) == pytest.approx(0.2, rel=0.25)
    assert steps.min() > 0.5 * steps.mean()
    assert steps.max() < 1.6 * steps.mean()


def test_hum_is_gone_over_a_whole_number_of_its_periods() -> None:
    hum = Troubles(hum_db=1.0)
    assert hum.hum(0.0025, 0.0) == pytest.approx(10 ** (1 / 20))
    assert hum.hum(0.0013, 0.02) == pytest.approx(1.0, abs=1e-9)
    assert hum.hum(0.0, 0.005) == pytest.approx(1 + 2 / math.pi * (10 ** (1 / 20) - 1))


def test_the_second_warm_up_falls_to_a_third_in_its_time() -> None:
    slow = Troubles(slow_warm_up_ppm=50.0, slow_warm_up_s=3600.0)
    assert slow.second_warm_up_ppm(3600.0) == pytest.approx(50 / math.e)


def test_a_bent_travel_moves_more_at_one_end_by_its_share() -> None:
    bent = Troubles(bent_travel=0.1)
    middle, end = (bent.part_turns(at + 0.01, 10.0) - bent.part_turns(at, 10.0) for at in (0.0, 5.0))
    assert end / middle == pytest.approx(1.1, rel=1e-3)
    assert bent.part_turns(-5.0, 10.0) == pytest.approx(-5.0 * 0.95)


def test_the_ladder_is_the_one_that_chain_matrices_give() -> None:
    """Solved here from the load inwards, there as a product of chain matrices."""
    world = crystal_ladder()
    frequency_hz = np.linspace(world.start_hz, world.stop_hz, 50)
    own_db = 20 * np.log10(LadderFilter().gain(frequency_hz))
    other_db = world.level_db(frequency_hz)
    assert own_db - own_db.max() == pytest.approx(other_db - other_db.max(), abs=1e-6)


@pytest.mark.parametrize("model", ["skerry-7", "millrace-5"])
def test_a_receiver_with_troubles_lags_limits_and_creeps(model: str) -> None:
    tidy, troubled = (
        shipped_models()[model].make(Draw(1, 1.0), Conditions(cold=True, troubles=troubles)).radio
        for troubles in (Troubles(), Troubles(slow_warm_up_ppm=80.0, bent_travel=0.2, ceiling_volts=1e-9, lag_s=100.0))
    )
    assert troubled.second_warm_up_ppm(0.0) - tidy.second_warm_up_ppm(0.0) == 80.0
    name = next(iter(tidy.adjusters))
    for radio in (tidy, troubled):
        radio.turn(name, 1.0)
    turned = troubled.adjusters[name].position_turns
    assert tidy.position(name) == turned
    assert troubled.position(name) == pytest.approx(turned + 0.2 * turned**2 / troubled.adjusters[name].travel_turns)
    assert troubled._detect(1.0) <= troubled.detector.volts(1e-9)  # noqa: SLF001 - what limits is not seen elsewhere
