"""Random worlds to search in: nothing, one peak, two, one at an edge; noise, pops, losses, floors, coarse meters.

The formulas are those of `search_truths`, written down from their published form.
"""

import math
from dataclasses import dataclass

import numpy as np

from sequences.numerics.search.next_reading import (
    Finished,
    ScanGoal,
    Search,
    begin,
    choose,
    current_fit,
    observe,
    progress,
)
from tests.sequences.numerics.search_truths import Truth, cascade, coupled_pair, flat_top, single_circuit

START_HZ = 400e3
MOST_WIDTHS = 600.0


@dataclass(frozen=True, slots=True)
class World:
    """What is in the window, and the meter it is read with."""

    goal: ScanGoal
    peaks: tuple[tuple[float, Truth], ...]
    floor_db: float
    noise_db: float
    pop_share: float
    lost_share: float
    lost_below_db: float
    last_digit_db: float
    tells_sigma: bool

    def read(self, frequency_hz: float, dice: np.random.Generator) -> tuple[float | None, float | None]:
        """Give the level and its sigma, either of which may be None."""
        if dice.random() < self.lost_share:
            return [None, math.nan, math.inf][dice.integers(3)], None
        power = 10.0 ** (self.floor_db / 10.0)
        power += sum(10.0 ** ((down_db + truth.level_db(frequency_hz)) / 10.0) for down_db, truth in self.peaks)
        level = 10.0 * math.log10(power) + self.noise_db * dice.standard_normal()
        if dice.random() < self.pop_share:
            level += 10.0 * dice.choice([-1.0, 1.0])
        if self.last_digit_db > 0.0:
            level = self.last_digit_db * round(level / self.last_digit_db)
        if level < self.lost_below_db:
            return None, None
        return level, (self.noise_db or 0.01) if self.tells_sigma else None


def world(seed: int) -> World:
    """Draw one."""
    dice = np.random.default_rng([seed, 12])
    width_hz = 10.0 ** dice.uniform(2.0, 4.0)
    span_hz = width_hz * 10.0 ** dice.uniform(0.3, math.log10(MOST_WIDTHS))
    kind = dice.choice(["nothing", "one", "one", "two", "at an edge", "outside"])
    if kind == "nothing":
        places: list[float] = []
    elif kind == "at an edge":
        places = [START_HZ + span_hz * dice.integers(2) + width_hz * dice.uniform(-0.7, 0.7)]
    elif kind == "outside":
        places = [START_HZ + span_hz + width_hz * dice.uniform(1.0, 5.0)]
    else:
        places = [START_HZ + span_hz * dice.random() for _ in range(2 if kind == "two" else 1)]
    peaks = tuple(
        (-dice.uniform(0.0, 25.0) if number else 0.0, _shape(dice, place, width_hz))
        for number, place in enumerate(places)
    )
    goal = ScanGoal(
        START_HZ,
        START_HZ + span_hz,
        [None, 0.001, 0.01, 0.05][dice.integers(4)],
        [None, 0.002, 0.02][dice.integers(3)],
        int(dice.choice([1, 2, 5, 17, 40, 120])),
    )
    return World(
        goal,
        peaks,
        floor_db=dice.choice([-200.0, -60.0, -40.0, -20.0, -6.0]),
        noise_db=dice.choice([0.0, 0.02, 0.2, 0.5, 2.0]),
        pop_share=dice.choice([0.0, 0.0, 0.02, 0.2]),
        lost_share=dice.choice([0.0, 0.0, 0.05, 0.5, 1.0], p=[0.4, 0.3, 0.2, 0.08, 0.02]),
        lost_below_db=dice.choice([-math.inf, -math.inf, -30.0, -10.0]),
        last_digit_db=dice.choice([0.0, 0.0, 0.1, 1.0]),
        tells_sigma=bool(dice.integers(2)),
    )


def _shape(dice: np.random.Generator, centre_hz: float, width_hz: float) -> Truth:
    return [
        lambda: single_circuit(centre_hz, width_hz),
        lambda: cascade(centre_hz, width_hz, int(dice.integers(2, 7))),
        lambda: coupled_pair(centre_hz, width_hz, float(dice.uniform(0.3, 4.0))),
        lambda: flat_top(centre_hz, width_hz, int(dice.integers(2, 7))),
    ][dice.integers(4)]()


def searched(seed: int) -> Search:
    """Search one world to its end.

    Raises:
        AssertionError: the search proposes what it may not, goes back in its progress, or does not end.
    """
    here, dice = world(seed), np.random.default_rng([seed, 34])
    search, done = begin(here.goal), 0.0
    for _ in range(here.goal.budget + 1):
        move = choose(search)
        if isinstance(move, Finished):
            assert move.reason
            current_fit(search)
            return search
        assert here.goal.start_hz <= move.frequency_hz <= here.goal.stop_hz
        search = observe(search, move.frequency_hz, *here.read(move.frequency_hz, dice))
        assert progress(search) >= done
        done = progress(search)
    raise AssertionError(f"The search of world {seed} went beyond its budget.")
