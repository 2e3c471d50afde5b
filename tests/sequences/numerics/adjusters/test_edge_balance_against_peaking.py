"""At equal noise and equal readings edge balance sets a slug at least five times as surely as peaking by meter."""

import pytest

from tests.benchmarks.edge_balance import compare


@pytest.mark.parametrize("noise_db", [0.05, 0.2])
def test_edge_balance_leaves_a_fifth_of_the_spread_that_peaking_leaves(noise_db: float) -> None:
    spread = compare(noise_db, trials=60)
    assert spread["peaking, back to the highest"] >= 5.0 * spread["edge balance"]
    assert spread["peaking, climbing"] >= 5.0 * spread["edge balance"]


def test_edge_balance_reaches_what_theory_allows() -> None:
    # sigma(f0) = B s / (8.686 sqrt N) for N readings at the half-power points: 0.2 dB, 20 readings, 0.515 % of B.
    assert compare(0.2, trials=100)["edge balance"] == pytest.approx(0.515, rel=0.2)
