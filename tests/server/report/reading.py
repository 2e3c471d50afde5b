"""Finding things in a report's content."""

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace

from server.report.content import Cell, Facts, Point, Points, Report, Section, Table


def section(report: Report, title: str) -> Section:
    """Give the section of a title."""
    return next(each for each in report.sections if each.title == title)


def table(report: Report, title: str, place: int = 0) -> Table:
    """Give a table of a section."""
    return [block for block in section(report, title).blocks if isinstance(block, Table)][place]


def cells(report: Report, title: str, first: str, place: int = 0) -> tuple[Cell, ...]:
    """Give the row of a table by its first cell."""
    return next(row for row in table(report, title, place).rows if row[0].text == first and len(row) > 1)


def facts(report: Report, title: str) -> dict[str, str]:
    """Give the facts of a section."""
    return dict(row for block in section(report, title).blocks if isinstance(block, Facts) for row in block.rows)


def point(report: Report, subject: str) -> Point:
    """Give a line of the summary."""
    points = next(block for block in section(report, "Summary").blocks if isinstance(block, Points))
    return next(each for each in points.rows if each.subject == subject)


IDENTITY = "Some Very Long Maker Incorporated,MODEL-34461A-OPTION-XYZ,MY53123456789012345678901,A.02.14-02.40-00.49"


def with_long_words(report: Report) -> Report:
    """Give a report whose words are longer than its lines."""
    table = Table("Instruments", ("Role", "Identity"), (False, False), (70, 30), ((Cell("source"), Cell(IDENTITY)),))
    facts = Facts((("Owner", "W" * 120), ("Make", "One line.\nAnother.")))
    return replace(report, title="Q" * 60, sections=(Section("S" * 60, 1, (facts, table)),))


def words(value: object) -> Iterator[str]:
    """Give every text of a report, plots excepted."""
    if isinstance(value, str):
        if not value.startswith("<svg"):
            yield value
    elif is_dataclass(value):
        for each in fields(value):
            yield from words(getattr(value, each.name))
    elif isinstance(value, tuple):
        for item in value:
            yield from words(item)
