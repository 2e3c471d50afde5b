"""A step's tables: which figure stands in which, in what order; and the sentences about it."""

import pytest

from sequences.alignment.outcome import Finding
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Signs, judge_at_most, judge_error, suspect_without_figure
from sequences.numerics.wording import say_db
from server.report.content import Table
from server.report.steps import step_section
from server.report.summary import point_of
from server.report.words import typeset
from tests.quantities import called
from tests.server.report.histories import finding, history


def limited(name: str, where: str, value: float, limit: float = 1.0) -> Finding:
    """Make a figure that has a limit."""
    figure = Estimate(value, 0.01)
    return Finding(called(name, "dB"), where, figure, judge_error("It", figure, limit, say_db))


def tables(found: list[Finding]) -> dict[str, list[str]]:
    """Give the first column of each table by its caption."""
    blocks = step_section(history(found), lambda _: {}).blocks
    return {block.caption: [row[0].text for row in block.rows] for block in blocks if isinstance(block, Table)}


def test_a_figure_alone_of_its_name_stands_before_the_groups_and_not_under_the_last_one() -> None:
    found = [
        *(limited("skew", where, 0.5) for where in ("2 kHz", "4 kHz")),
        limited("ripple", "", 0.1),
        *(finding("loaded Q", where, 50.0) for where in ("2 kHz", "4 kHz")),
        finding("level gained", "", 1.0),
    ]

    assert tables(found) == {
        "Figures and their limits": ["Ripple", "Skew", "2 kHz", "4 kHz"],
        "Other figures": ["Level gained", "Loaded Q", "2 kHz", "4 kHz"],
    }


def test_a_figure_that_could_not_be_measured_stays_with_those_of_its_name() -> None:
    """Of one that was measured nowhere, the limit may not be known: it stands among those that were wanted."""
    found = [
        *(limited("skew", where, 0.5) for where in ("2 kHz", "4 kHz")),
        finding("skew", "8 kHz", None),
        *(finding("centre", where, 60.0) for where in ("2 kHz", "4 kHz")),
        finding("centre", "8 kHz", None),
        finding("level still to be gained", "", None),
    ]

    assert tables(found) == {
        "Figures and their limits": ["Level still to be gained", "Skew", "2 kHz", "4 kHz", "8 kHz"],
        "Other figures": ["Centre", "2 kHz", "4 kHz", "8 kHz"],
    }


def test_a_figure_that_has_no_limit_here_is_no_judged_one_though_another_of_its_name_is() -> None:
    found = [limited("centre error", "", 5.0, limit=10.0), finding("centre error", "can 2 alone", 18.0)]

    assert tables(found) == {
        "Figures and their limits": ["Centre error"],
        "Other figures": ["Centre error, can 2 alone"],
    }


@pytest.mark.parametrize(
    ("plain", "set_"),
    [
        ("slug 7/9.5 went from -5.72 V to -7.5 V.", "Slug 7/9.5 went from \u22125.72 V to \u22127.5 V."),
        ("-4.3 dB +- 0.1 dB", "\u22124.3 dB \u00b1 0.1 dB"),
        ("On 2026-11-25, T-2 and 3-5 turns.", "On 2026-11-25, T-2 and 3-5 turns."),
    ],
)
def test_a_sentence_of_a_measurement_is_set_as_paper_does(plain: str, set_: str) -> None:
    assert typeset(plain) == set_


def test_where_the_gravest_figure_could_not_be_had_the_next_is_told_too() -> None:
    """And a gain within its uncertainty is no gain."""
    lost = suspect_without_figure("It", 1.0, Signs(seized=True))
    left = [
        limited("centre error", "", 18.0, limit=10.0),
        Finding(called("level still to be gained", "dB"), "", None, lost, "It sits fast."),
        Finding(called("level gained", "dB"), "", Estimate(0.001, 0.06)),
    ]
    told = point_of(history([limited("centre error", "", 14.0, limit=10.0)], [], left)).text

    assert "The signal changed by less than 0.2\u00a0dB." in told
    assert "Its level still to be gained could not be measured in the end." in told
    assert "It is now off centre by 18\u00a0dB upwards, where 10\u00a0dB either way is allowed." in told


def test_what_is_within_its_limit_by_its_own_figure_is_said_so() -> None:
    figure = Estimate(0.2, 0.01)
    found = [Finding(called("level still to be gained", "dB"), "", figure, judge_at_most("It", figure, 1.0, say_db))]

    assert "It is giving away 0.2\u00a0dB, which is within its limit." in point_of(history(found)).text
