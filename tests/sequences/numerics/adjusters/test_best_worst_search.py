"""Where to turn a shared adjuster next, on hills written down here."""

from collections.abc import Callable

import pytest

from sequences.numerics.adjusters.best_worst_search import next_setting

STRIDE, REACH = 4, 24


def search(figure: Callable[[int], float], stops: dict[int, int] | None = None) -> dict[int, float]:
    """Measure wherever it says, until it says no more; `stops` are the ends of the travel by side."""
    ends = {1: 1000, -1: -1000, **(stops or {})}
    worst = {0: figure(0)}
    blocked: set[int] = set()
    while (setting := next_setting(worst, STRIDE, REACH, blocked)) is not None:
        assert setting not in worst
        if not ends[-1] <= setting <= ends[1]:
            blocked.add(1 if setting > 0 else -1)
            continue
        worst[setting] = figure(setting)
    return worst


@pytest.mark.parametrize("top", [-17, -6, 0, 3, 13])
def test_the_top_of_a_smooth_hill_is_straddled(top: int) -> None:
    """A setting on either side of it, and fine steps near it."""
    worst = search(lambda setting: 7.0 - 0.02 * (setting - top) ** 2)

    best = max(worst, key=lambda setting: worst[setting])
    assert min(worst) < top < max(worst)
    assert abs(best - top) <= STRIDE // 2
    assert {best - STRIDE // 2, best + STRIDE // 2} <= worst.keys()
    assert len(worst) <= 15


@pytest.mark.parametrize("start", [-9, 5])
def test_a_hill_that_stops_dead_on_one_side_is_found(start: int) -> None:
    """A crystal stops on one side of its peak and fades slowly on the other."""
    worst = search(lambda setting: max(0.0, 7.0 - 0.08 * abs(setting - start)) if setting < start + 8 else 0.0)

    assert abs(max(worst, key=lambda setting: worst[setting]) - start) <= STRIDE // 2


def test_a_band_that_does_not_run_is_looked_for_on_both_sides() -> None:
    """Dead as found; it runs from 10 nudges on."""
    worst = search(lambda setting: 0.0 if setting < 10 else 7.0 - 0.1 * abs(setting - 14))

    assert max(worst.values()) >= 6.8


def test_what_never_runs_is_given_up_at_the_reach() -> None:
    """Twelve settings either way at most, and no more."""
    worst = search(lambda _: 0.0)

    assert max(worst) <= REACH
    assert min(worst) >= -REACH
    assert len(worst) <= 2 * REACH // STRIDE + 3


def test_the_end_of_the_travel_is_respected() -> None:
    """The hill's top lies beyond it."""
    worst = search(lambda setting: 7.0 - 0.02 * (setting - 15) ** 2, {1: 6})

    assert max(worst) <= 6
    assert len(worst) >= 4


def test_the_search_begins_with_the_figures_as_found() -> None:
    """One sentence says so."""
    with pytest.raises(ValueError, match="begins with the figures as found"):
        next_setting({4: 1.0}, STRIDE, REACH)
