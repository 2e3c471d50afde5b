"""The table a report opens with: limit, as found, as left, for an owner."""

from sequences.alignment.outcome import Finding
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import judge_error
from sequences.numerics.wording import say_db
from server.report.content import Report, Table, Tone
from server.report.promised import CAPTION, promised_table
from tests.quantities import called
from tests.server.report.histories import finding, history
from tests.server.report.reading import cells, section


def held(where: str, value: float) -> Finding:
    """Make a figure that may be off by 1 dB either way."""
    figure = Estimate(value, 0.01)
    return Finding(called("skew", "dB"), where, figure, judge_error("It", figure, 1.0, say_db))


def texts(*args: list[Finding] | None) -> list[list[str]]:
    """Give the rows of a step's figures as text."""
    found, adjusted, left = args
    assert found is not None
    (table,) = promised_table((history(found, adjusted, left),))
    return [[cell.text for cell in row] for row in table.rows]


def test_a_report_opens_with_what_was_promised_found_and_left(report: Report) -> None:
    first = section(report, "Summary").blocks[0]

    assert report.sections[0].title == "Summary"
    assert isinstance(first, Table)
    assert first.caption == CAPTION
    beat = cells(report, "Summary", "Beat oscillator: frequency error")
    assert [cell.text for cell in beat[1:]] == [
        "\u00b120\u00a0Hz",
        "\u2212334.7 \u00b1 1.9\u00a0Hz",
        "+4.85 \u00b1 0.90\u00a0Hz",
        "kept",
    ]
    assert beat[-1].tone is Tone.GOOD


def test_of_several_places_the_worst_is_told_each_time() -> None:
    """The place that was worst as found need not be the worst that is left."""
    rows = texts([held("2 kHz", 3.0), held("4 kHz", 0.5)], [], [held("2 kHz", 0.1), held("4 kHz", 0.6)])

    (row,) = rows
    assert row[0] == "Warm-up: skew, worst of 2"
    assert "+3.000" in row[2]
    assert row[2].endswith(", 2 kHz")
    assert "+0.600" in row[3]
    assert row[3].endswith(", 4 kHz")
    assert row[4] == "kept"


def test_what_was_not_measured_again_is_left_as_found_and_what_is_beyond_is_not_kept() -> None:
    (row,) = texts([held("", 3.0), finding("unlimited", "", 1.0)], None, None)

    assert row[3:] == ["as found", "not kept"]


def test_nothing_measured_makes_no_table() -> None:
    assert promised_table(()) == ()
