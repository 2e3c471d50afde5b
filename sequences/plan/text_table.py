"""A table of text, as a terminal or a page shows it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TextTable:
    """A table of text: a title, column headings and rows as long as the headings."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
