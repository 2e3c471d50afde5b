"""A walk down a skirt by constant output, on skirts whose widths have a closed form."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from sequences.numerics.figures import Estimate
from sequences.numerics.levels.nearby_law import REACH_DB
from sequences.numerics.levels.skirt_walk import Bracketed, LookThere, OutOfReach, SkirtGoal, SkirtLook, next_look
from sequences.numerics.levels.skirt_width import SkirtReadings, width_at_depth

Skirt = Callable[[float], float]


def pairs(count: int) -> Skirt:
    """Critically coupled pairs in cascade, in dB down: 10 n log(1 + a^4 / 4), a the detuning over the bandwidth f0/Q.

    Source: universal curve of coupled pairs, Terman, Radio Engineers' Handbook (1943), section 3 (from memory).
    """
    return lambda a: 10.0 * count * math.log10(1.0 + a**4 / 4.0)


def wall(at: float) -> Skirt:
    """A skirt that falls by 100 dB at once, as a crystal filter's nearly does."""
    return lambda distance: 0.0 if distance < at else 100.0


def look_at(skirt: Skirt, there: LookThere) -> SkirtLook:
    """Give what is read: a law that reaches so far and no further."""
    offset_db = there.above_db - skirt(there.distance_hz)
    told = offset_db if abs(offset_db) <= REACH_DB else math.copysign(math.inf, offset_db)
    return SkirtLook(there.distance_hz, there.above_db, told)


def walk(skirt: Skirt, goal: SkirtGoal) -> tuple[Bracketed | OutOfReach, list[SkirtLook]]:
    """Look until it is decided."""
    looks: list[SkirtLook] = []
    while isinstance(decision := next_look(goal, looks), LookThere):
        looks.append(look_at(skirt, decision))
    return decision, looks


@pytest.mark.parametrize("first", [0.2, 1.0, 3.0])
@pytest.mark.parametrize("count", [1, 2, 3, 6])
@pytest.mark.parametrize("depth_db", [6.0, 60.0])
def test_the_depth_is_bracketed_and_the_output_never_driven_far_above_its_target(
    count: int, depth_db: float, first: float
) -> None:
    """From a first distance that is far too small or far too large alike."""
    decision, looks = walk(pairs(count), SkirtGoal(depth_db, first, 1e4, 63.0))

    assert isinstance(decision, Bracketed)
    edge = math.sqrt(2.0) * (10.0 ** (depth_db / (10.0 * count)) - 1.0) ** 0.25
    assert decision.inner_hz <= edge <= decision.outer_hz
    assert len(looks) <= 32
    assert max(look.above_db - pairs(count)(look.distance_hz) for look in looks) <= 15.0


def test_a_wall_is_bracketed_though_no_reading_stands_on_it() -> None:
    decision, _ = walk(wall(1000.0), SkirtGoal(60.0, 500.0, 1e5, 63.0))

    assert isinstance(decision, Bracketed)
    assert decision.inner_hz <= 1000.0 <= decision.outer_hz
    assert decision.outer_hz < 1.003 * decision.inner_hz


@pytest.mark.parametrize(("most_db", "farthest"), [(40.0, 1e4), (63.0, 3.0)])
def test_a_depth_out_of_reach_gives_a_distance_at_which_the_receiver_still_hears(
    most_db: float, farthest: float
) -> None:
    """A source that is too weak, and a response that does not fall so far where it can be followed."""
    decision, _ = walk(pairs(1), SkirtGoal(60.0, 1.0, farthest, most_db))

    assert isinstance(decision, OutOfReach)
    assert 0.5 * min(most_db, 19.0) < pairs(1)(decision.heard_hz) < 60.0


@pytest.mark.parametrize(("count", "shape"), [(1, 24.03), (2, 5.62), (3, 3.60)])
def test_widths_and_shape_factor_are_the_published_ones_and_cover(count: int, shape: float) -> None:
    """60 dB width over 6 dB width of critically coupled pairs, with 0.1 dB of noise on each reading."""
    rng = np.random.default_rng(3)
    misses, ratios = [], []
    for _ in range(300):
        reference = Estimate(float(rng.normal(0.0, 0.03)), 0.03)
        widths = {depth: _read_width(count, depth, reference, rng) for depth in (6.0, 60.0)}
        ratios.append(widths[60.0].value / widths[6.0].value)
        for depth, width in widths.items():
            true = 2.0 * math.sqrt(2.0) * (10.0 ** (depth / (10.0 * count)) - 1.0) ** 0.25
            misses.append(abs(width.value - true) / width.sigma)

    assert float(np.mean(ratios)) == pytest.approx(shape, rel=0.003)
    assert 0.92 <= float(np.mean(np.array(misses) < 1.96)) <= 0.985


def _read_width(count: int, depth_db: float, reference: Estimate, rng: np.random.Generator) -> Estimate:
    """Read about both edges; the top itself lay off by what the reference says."""
    decision, _ = walk(pairs(count), SkirtGoal(depth_db, 1.0, 1e4, 70.0))
    assert isinstance(decision, Bracketed)
    places = np.geomspace(decision.inner_hz, decision.outer_hz, 4).tolist() * 3

    def side() -> SkirtReadings:
        offsets = [depth_db - pairs(count)(at) + float(rng.normal(0.0, 0.1)) for at in places]
        return SkirtReadings(decision.inner_hz, decision.outer_hz, np.array(places), np.array(offsets))

    return width_at_depth((side(), side()), reference).width_hz
