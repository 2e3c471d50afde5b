"""Two slugs that pull on each other, set in few turns, and not at all where they are over-coupled.

The receiver's part is played by two parallel tuned circuits with mutual inductance, solved at their nodes without any
narrow-band step, each slug changing its own inductance.
"""

import math
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize

from sequences.numerics.adjusters.two_slugs import (
    Decision,
    NotSettled,
    Settled,
    Slug,
    SlugGoal,
    SlugReading,
    Turn,
    next_turn,
)
from sequences.numerics.figures import DoubtName, Estimate

FREQUENCY_HZ = 470e3
CAPACITANCE_F = 200e-12


@dataclass(frozen=True)
class Can:
    """A double-tuned can: Q and kQ, nudges to a half-width, and where its slugs stand from right, in nudges."""

    kq: float
    half_width_nudges: float
    first_off: float
    second_off: float
    q: float = 60.0

    def level_db(self, first: float, second: float) -> float:
        """Voltage of the second circuit for a current into the first, in dB."""
        omega = 2.0 * math.pi * FREQUENCY_HZ
        right_h = 1.0 / (omega**2 * CAPACITANCE_F)
        # A half-width is a share 1/(2Q) of the frequency, and twice that of the inductance.
        share = 1.0 / (self.q * self.half_width_nudges)
        inductance_h = right_h * np.array(
            [1.0 + (first - self.first_off) * share, 1.0 + (second - self.second_off) * share]
        )
        mutual_h = self.kq / self.q * math.sqrt(float(inductance_h.prod()))
        inverse = np.linalg.inv(np.array([[inductance_h[0], mutual_h], [mutual_h, inductance_h[1]]]))
        conductance = omega * CAPACITANCE_F / self.q
        admittance = (conductance + 1j * omega * CAPACITANCE_F) * np.eye(2) + inverse / (1j * omega)
        return 20.0 * math.log10(abs(np.linalg.solve(admittance, np.array([1e-6, 0.0]))[1]))

    def peak(self) -> tuple[float, float]:
        """Where both slugs give the most, found by trying."""

        def shortfall(at: NDArray[np.float64]) -> float:
            return -self.level_db(float(at[0]), float(at[1]))

        found = minimize(shortfall, np.array([self.first_off, self.second_off]), method="Nelder-Mead", tol=1e-5)
        return float(found.x[0]), float(found.x[1])


def random_can(rng: np.random.Generator, least_kq: float, most_kq: float) -> Can:
    """A can out of alignment by up to six nudges on either slug."""
    kq = float(rng.uniform(least_kq, most_kq))
    return Can(kq, float(rng.uniform(2.0, 5.0)), float(rng.uniform(-6.0, 6.0)), float(rng.uniform(-6.0, 6.0)))


def carry_out(
    can: Can, goal: SlugGoal, rng: np.random.Generator, play_nudges: float = 0.0
) -> tuple[Decision, list[SlugReading]]:
    """Turn as told, with some play in the fingers, until there is a result."""

    def read(first: float, second: float) -> SlugReading:
        play = rng.normal(0.0, play_nudges, 2) if play_nudges else np.zeros(2)
        level_db = can.level_db(first + float(play[0]), second + float(play[1])) + float(rng.normal(0.0, goal.sigma_db))
        return SlugReading(first, second, level_db)

    readings = [read(0.0, 0.0)]
    while True:
        decision = next_turn(goal, readings)
        if not isinstance(decision, Turn):
            return decision, readings
        assert len(readings) < goal.budget + 3
        now = readings[-1]
        at = (decision.to_nudges, now.second) if decision.slug is Slug.FIRST else (now.first, decision.to_nudges)
        assert max(abs(at[0]), abs(at[1])) <= goal.most_nudges
        assert decision.text.endswith(".")
        readings.append(read(*at))


@pytest.mark.parametrize(("noise_db", "play_nudges"), [(0.05, 0.0), (0.1, 0.1), (0.2, 0.0)])
def test_both_slugs_of_an_under_coupled_can_are_set_to_their_common_peak(noise_db: float, play_nudges: float) -> None:
    rng = np.random.default_rng(30)
    left, counts, missing_db = [], [], []
    for _ in range(16):
        can = random_can(rng, 0.3, 0.9)
        decision, readings = carry_out(can, SlugGoal(noise_db, most_nudges=15.0), rng, play_nudges)
        if isinstance(decision, NotSettled):
            continue
        peak = can.peak()
        left.append(np.array([readings[-1].first - peak[0], readings[-1].second - peak[1]]))
        missing_db.append(can.level_db(*peak) - can.level_db(readings[-1].first, readings[-1].second))
        counts.append(len(readings))
    assert len(left) >= 15
    assert float(np.sqrt(np.mean(np.square(left)))) < 0.25
    assert max(missing_db) < 0.15
    assert np.median(counts) <= 19


def test_the_stated_peak_and_gain_hold() -> None:
    rng = np.random.default_rng(31)
    inside, gains = [], []
    for _ in range(24):
        can = random_can(rng, 0.3, 0.9)
        decision, readings = carry_out(can, SlugGoal(0.1, most_nudges=15.0), rng)
        assert isinstance(decision, Settled)
        peak = can.peak()
        inside += [abs(decision.first.value - peak[0]) <= 1.96 * decision.first.sigma]
        inside += [abs(decision.second.value - peak[1]) <= 1.96 * decision.second.sigma]
        gain_db = can.level_db(readings[-1].first, readings[-1].second) - can.level_db(0.0, 0.0)
        gains.append(abs(decision.gain_db.value - gain_db) <= 2.0 * decision.gain_db.sigma + 0.05)
    assert np.mean(inside) >= 0.93
    assert np.mean(gains) >= 0.9


def test_an_over_coupled_can_is_refused_and_says_what_to_do() -> None:
    rng = np.random.default_rng(32)
    names = []
    for _ in range(20):
        can = random_can(rng, 1.35, 1.9)
        decision, readings = carry_out(can, SlugGoal(0.05, most_nudges=15.0), rng)
        if isinstance(decision, NotSettled):
            names.append(decision.doubt.name)
            assert "damp" in decision.doubt.text or decision.doubt.name is not DoubtName.OVER_COUPLED
        else:
            # Never a hump: where it settles at all, it settles in the middle between them.
            assert abs(readings[-1].first - can.first_off) < 1.0
            assert abs(readings[-1].second - can.second_off) < 1.0
    assert names.count(DoubtName.OVER_COUPLED) >= 18


def test_an_over_coupled_can_is_set_to_the_middle_between_its_humps_where_it_is_to_be_balanced() -> None:
    rng = np.random.default_rng(36)
    off, settled = [], 0
    for _ in range(12):
        can = random_can(rng, 1.35, 1.9)
        decision, readings = carry_out(can, SlugGoal(0.05, most_nudges=15.0, balance=True), rng)
        if not isinstance(decision, Settled):
            continue
        settled += 1
        assert "between the humps" in decision.text
        assert abs(decision.coupling.value - can.kq) < max(4.0 * decision.coupling.sigma, 0.1)
        assert abs(decision.half_widths[0] / can.half_width_nudges - 1.0) < 0.2
        off += [readings[-1].first - can.first_off, readings[-1].second - can.second_off]
    assert settled >= 11
    assert float(np.abs(off).max()) < 1.0


def test_what_is_left_to_be_gained_is_what_the_can_itself_would_give_more() -> None:
    rng = np.random.default_rng(37)
    for _ in range(8):
        can = random_can(rng, 0.4, 0.9)
        decision, readings = carry_out(can, SlugGoal(0.05, tolerance_nudges=1.0, most_nudges=15.0), rng)
        assert isinstance(decision, Settled)
        truth_db = can.level_db(*can.peak()) - can.level_db(readings[-1].first, readings[-1].second)
        assert abs(decision.left_db.value - truth_db) <= 4.0 * decision.left_db.sigma + 0.02


@pytest.mark.parametrize(("coupling", "dip_db"), [(0.8, 0.0), (1.2, 0.144), (1.5, 0.695), (2.0, 1.938), (3.0, 4.437)])
def test_the_dip_between_the_humps_is_that_of_two_coupled_circuits(coupling: float, dip_db: float) -> None:
    """20 log10((1 + kQ^2) / (2 kQ)): Aiken, Proc. IRE 25 (1937), from memory; follows from the pair's closed form."""
    known = Estimate(coupling, 0.01)
    settled = Settled(known, known, known, known, known, (3.0, 3.0), "")

    assert settled.dip_db.value == pytest.approx(dip_db, abs=1e-3)
    assert settled.dip_db.sigma >= 0.0


def test_a_can_already_right_is_found_so() -> None:
    can = Can(0.7, 3.0, 0.0, 0.0)
    decision, readings = carry_out(can, SlugGoal(0.05), np.random.default_rng(33))
    assert isinstance(decision, Settled)
    assert abs(readings[-1].first) <= 0.25
    assert abs(readings[-1].second) <= 0.25
    assert "leave them there" in decision.text


def test_the_slugs_are_turned_one_at_a_time_and_the_first_turn_is_one_nudge() -> None:
    decision = next_turn(SlugGoal(0.1), [SlugReading(0.0, 0.0, -20.0)])
    assert isinstance(decision, Turn)
    assert decision.slug is Slug.FIRST
    assert abs(decision.by_nudges) == 1.0
    assert "first slug" in decision.text


def test_a_slug_that_does_nothing_is_refused() -> None:
    readings = [SlugReading(0.0, 0.0, -20.0)]
    rng = np.random.default_rng(34)
    while isinstance(decision := next_turn(SlugGoal(0.1), readings), Turn):
        readings.append(SlugReading(decision.to_nudges, 0.0, -20.0 + float(rng.normal(0.0, 0.1))))
    assert isinstance(decision, NotSettled)
    assert decision.doubt.name is DoubtName.NO_RISE
    assert "seized" in decision.doubt.text


def test_a_peak_beyond_the_allowed_travel_is_refused() -> None:
    decision, _ = carry_out(Can(0.5, 3.0, 30.0, 0.0), SlugGoal(0.05), np.random.default_rng(35))
    assert isinstance(decision, NotSettled)
    assert decision.doubt.name is DoubtName.NOT_BRACKETED
    assert "suspect a part" in decision.doubt.text


def test_no_reading_and_a_reading_that_is_no_number_are_refused() -> None:
    with pytest.raises(ValueError, match="first reading"):
        next_turn(SlugGoal(0.1), [])
    with pytest.raises(ValueError, match="not a number"):
        next_turn(SlugGoal(0.1), [SlugReading(0.0, 0.0, math.nan)])
