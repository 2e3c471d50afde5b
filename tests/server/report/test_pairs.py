"""Figures as found and as left find each other, whatever the runs called them."""

from sequences.alignment.outcome import Finding, Phase
from server.report.pairs import Pair, pairs_of
from tests.server.report.histories import finding, history


def shown(pairs: tuple[Pair, ...]) -> list[tuple[str, str, float | None, float | None]]:
    """Give names, places and values."""
    return [(pair.name, pair.where, value_of(pair.found), value_of(pair.left)) for pair in pairs]


def value_of(one: Finding | None) -> float | None:
    """Give the value of a figure, None where there is none."""
    return None if one is None or one.figure is None else one.figure.value


def test_the_same_figure_is_told_by_its_name_and_place() -> None:
    pairs = pairs_of(history([finding("skew", "2 kHz", 1.0)], None, [finding("skew", "2 kHz", 0.5)]))

    assert shown(pairs) == [("skew", "2 kHz", 1.0, 0.5)]


def test_what_only_turning_shows_comes_from_the_round_of_turning() -> None:
    """As found and as left say that they cannot tell; the round of adjusting can, and names what it turned."""
    untold = [finding("level still to be gained", "", None)]
    pairs = pairs_of(history(untold, [finding("level still to be gained", "T2", 0.01)], untold))

    assert shown(pairs) == [("level still to be gained", "T2", None, 0.01)]


def test_a_round_fills_in_what_it_found_before_it_turned() -> None:
    adjusted = [finding("dial error", "0 kHz", 9.0, Phase.AS_FOUND), finding("dial error", "0 kHz", 0.2)]
    pairs = pairs_of(history([finding("dial error", "0 kHz", None)], adjusted, [finding("dial error", "0 kHz", 0.1)]))

    assert shown(pairs) == [("dial error", "0 kHz", 9.0, 0.1)]


def test_the_last_round_counts() -> None:
    """Here the adjusting was broken off, so that its end is how the step was left."""
    pairs = pairs_of(
        history([finding("skew", "", 3.0)], [finding("skew", "", 3.1, Phase.AS_FOUND), finding("skew", "", 2.0)])
    )

    assert shown(pairs) == [("skew", "", 3.0, 2.0)]


def test_levels_are_only_put_beside_others_at_the_same_output() -> None:
    """Taken in another run, at another voltage, they say nothing about what was gained."""
    name = "source level for the same output"
    pairs = pairs_of(
        history(
            [finding(name, "2.32 V at the meter", -50.03)],
            [
                finding(name, "2.33 V at the meter", -49.94, Phase.AS_FOUND),
                finding(name, "2.33 V at the meter", -50.32, Phase.AS_LEFT),
            ],
            [finding(name, "2.42 V at the meter", -49.99)],
        )
    )

    assert shown(pairs) == [(name, "2.33 V at the meter", -49.94, -50.32)]


def test_what_was_measured_once_stands_alone() -> None:
    assert shown(pairs_of(history([finding("skew", "", 1.0)]))) == [("skew", "", 1.0, None)]
