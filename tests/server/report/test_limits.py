"""Limits in words: which way a limit holds is the quantity's own, whatever the sign of limit and figure."""

import pytest

from sequences.alignment.outcome import Finding
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Judged, judge_at_least, judge_at_most, judge_error
from sequences.numerics.wording import say_db
from sequences.quantities import Quantity, Sense
from server.report.limits import row_scale, say_figure, say_limit
from server.report.pairs import Pair
from server.report.phrases import limit_in_words, worst_of

MINUS, SPACE = "\u2212", "\u00a0"


def pair(sense: Sense, figure: float, limit: float) -> Pair:
    """Make a figure in dB, judged the way its sense has it."""
    estimate = Estimate(figure, 0.1)
    judged: dict[Sense, Judged] = {
        Sense.AT_MOST: judge_at_most("It", estimate, limit, say_db),
        Sense.AT_LEAST: judge_at_least("It", estimate, limit, say_db),
        Sense.EITHER_WAY: judge_error("It", estimate, abs(limit), say_db),
    }
    return Pair(
        Quantity("x", "x", "dB", sense), "", Finding(Quantity("x", "x", "dB", sense), "", estimate, judged[sense]), None
    )


@pytest.mark.parametrize(
    ("sense", "figure", "limit", "in_table", "in_sentence"),
    [
        (Sense.AT_LEAST, 42.0, 20.0, f"at least 20{SPACE}dB", f"20{SPACE}dB is the least allowed"),
        (Sense.AT_LEAST, 12.0, 20.0, f"at least 20{SPACE}dB", f"20{SPACE}dB is the least allowed"),
        (Sense.AT_LEAST, -4.0, -6.0, f"at least {MINUS}6{SPACE}dB", f"{MINUS}6{SPACE}dB is the least allowed"),
        (Sense.AT_MOST, 0.2, 0.5, f"at most 0.5{SPACE}dB", f"0.5{SPACE}dB is allowed"),
        (Sense.AT_MOST, -97.0, -90.0, f"at most {MINUS}90{SPACE}dB", f"{MINUS}90{SPACE}dB is allowed"),
        (Sense.EITHER_WAY, -1.5, 2.0, f"\u00b12{SPACE}dB", f"2{SPACE}dB either way is allowed"),
    ],
)
def test_a_limit_is_said_as_what_it_means(
    sense: Sense, figure: float, limit: float, in_table: str, in_sentence: str
) -> None:
    row = pair(sense, figure, limit)
    worst = worst_of([row], left=False)

    assert say_limit(row, row_scale(row)) == in_table
    assert worst is not None
    assert limit_in_words(worst) == in_sentence


@pytest.mark.parametrize(
    ("sense", "text"), [(Sense.EITHER_WAY, "+1.50"), (Sense.AT_MOST, "1.50"), (Sense.AT_LEAST, "1.50")]
)
def test_only_an_error_has_its_sign_when_it_is_above_nought(sense: Sense, text: str) -> None:
    row = pair(sense, 1.5, 2.0)

    assert say_figure(row, row.found, row_scale(row)) == f"{text} \u00b1 0.20{SPACE}dB"


@pytest.mark.parametrize(
    ("sense", "better", "worse", "limit"), [(Sense.AT_LEAST, 42.0, 22.0, 20.0), (Sense.AT_MOST, -99.0, -91.0, -90.0)]
)
def test_the_worst_of_several_is_the_one_nearest_to_its_limit(
    sense: Sense, better: float, worse: float, limit: float
) -> None:
    pairs = [pair(sense, better, limit), pair(sense, worse, limit)]
    worst = worst_of(pairs, left=False)

    assert worst is not None
    assert worst.pair is pairs[1]
