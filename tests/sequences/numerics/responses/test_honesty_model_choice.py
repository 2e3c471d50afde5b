"""The kind of curve that is named is the one that was swept, seven kinds of it, at 0.1 dB noise."""

import numpy as np
import pytest

from sequences.numerics.responses.passband import fit_passband
from tests.sequences.numerics.honest_truths import (
    Truth,
    coupled_pair,
    equal_circuits,
    even_sweep,
    flat_top,
    skewed_pair,
)
from tests.trials import trials

TRIALS = trials(200)
NOISE_DB = 0.1
RIGHT = 0.97
MOVED = 0.02

# Names that are right. Curves that are mathematically the same count as one kind: two circuits of equal Q, tuned apart,
# draw the curve of a more tightly coupled pair tuned alike (only the sum of the squares of coupling and distance
# counts); and three or four staggered circuits can draw every flat top of three or four poles, which is made of such.
KINDS = {
    "single circuit": ({"single circuit"}, [equal_circuits(1)]),
    "loose pair": ({"loosely coupled pair"}, [coupled_pair(0.5), coupled_pair(0.6), coupled_pair(0.7)]),
    "critical pair": ({"critically coupled pair"}, [coupled_pair(1.0)]),
    "over-coupled or stagger-tuned pair": (
        {"over-coupled pair"},
        [coupled_pair(1.5), coupled_pair(3.0), skewed_pair(0.0, 2.0, 1.0), skewed_pair(1.5, 0.5, 1.0)],
    ),
    "skewed pair": ({"skewed pair"}, [skewed_pair(1.2, 0.6, 1.5), skewed_pair(2.0, 0.4, 1.5)]),
    "equal circuits": (
        {"3 equal circuits", "4 equal circuits", "6 equal circuits"},
        [equal_circuits(3), equal_circuits(4), equal_circuits(6)],
    ),
    "flat top": (
        {"flat-topped filter", "3 staggered circuits", "4 staggered circuits"},
        [flat_top(3), flat_top(4), flat_top(5), flat_top(6), flat_top(4, 0.5), flat_top(5, 0.2), flat_top(6, 1.0)],
    ),
}


@pytest.mark.parametrize("kind", KINDS)
def test_the_kind_is_named_rightly_and_a_wrong_name_never_moves_the_centre(kind: str) -> None:
    names, truths = KINDS[kind]
    named = []
    for seed in range(TRIALS):
        truth = truths[seed % len(truths)]
        model, moved = _named_and_moved(truth, seed)
        named.append(model)
        assert moved < MOVED, f"seed {seed}, called {model}: the centre moved by {moved:.2%} of the width"
    right = sum(model in names for model in named)
    assert right >= RIGHT * TRIALS, f"{right} of {TRIALS} are right; wrong: {[m for m in named if m not in names]}"


def _named_and_moved(truth: Truth, seed: int) -> tuple[str | None, float]:
    """The name, and by how much of the width the centre is off."""
    dice = np.random.default_rng([7, seed])
    sweep = even_sweep(truth, NOISE_DB, dice, readings=(61, 81, 101)[seed % 3])
    fit = fit_passband(sweep.frequency_hz, sweep.level_db)
    assert fit.centre is not None, f"seed {seed}: {fit.doubts}"
    return fit.model, abs(fit.centre.value - truth.centre_hz) / truth.width_hz


@pytest.mark.parametrize("count", [3, 4, 6])
def test_equal_circuits_are_counted(count: int) -> None:
    models = [_named_and_moved(equal_circuits(count), seed)[0] for seed in range(trials(50))]
    assert models.count(f"{count} equal circuits") >= 0.9 * len(models)
