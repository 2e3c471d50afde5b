"""What a report says, in blocks that know nothing of HTML or PDF. Both are set from these, so no word stands twice."""

from dataclasses import dataclass
from enum import StrEnum


class Tone(StrEnum):
    """How something stands. Shown by a mark and a word as well as by colour."""

    GOOD = "good"
    PUT_RIGHT = "put right"
    CLOSE = "close"
    BAD = "bad"
    PLAIN = "plain"


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text. `small` for what explains and is not read first."""

    text: str
    small: bool = False


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of sentences, with a heading of its own where it has one."""

    items: tuple[str, ...]
    heading: str = ""


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and what they are, two columns."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Point:
    """One line of a summary: how it stands, in a word, of what, and the sentence."""

    tone: Tone
    word: str
    subject: str
    text: str


@dataclass(frozen=True, slots=True)
class Points:
    """The lines of a summary."""

    rows: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of a table."""

    text: str
    tone: Tone = Tone.PLAIN


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of cells. `figures` says for each column whether it holds figures, which are set to the right.

    `shares` are the columns' shares of the width. A row of one cell is a heading over the rows below it.
    """

    caption: str
    columns: tuple[str, ...]
    figures: tuple[bool, ...]
    shares: tuple[int, ...]
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A plot as SVG text; `says` is what it shows, for who cannot see it, and `caption` stands under it."""

    svg: str
    caption: str
    says: str


@dataclass(frozen=True, slots=True)
class Drawings:
    """Small plots side by side, with what holds for all of them."""

    drawings: tuple[Drawing, ...]
    caption: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo, as bytes that both forms can show."""

    content: bytes
    media_type: str
    caption: str


@dataclass(frozen=True, slots=True)
class Warned:
    """A caution, set off from the text."""

    heading: str
    items: tuple[str, ...]


Block = Paragraph | Bullets | Facts | Points | Table | Drawing | Drawings | Picture | Warned


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with its blocks. `level` 1 is a part of the report, 2 one of its steps; `word` says how it stands."""

    title: str
    level: int
    blocks: tuple[Block, ...]
    word: str = ""
    tone: Tone = Tone.PLAIN


@dataclass(frozen=True, slots=True)
class Report:
    """A whole report.

    `running` stands at the head of every page and `made` at its foot; `practice` is empty for a real receiver and else
    the words that mark every page. `page_of` has places for {page} and {pages}.
    """

    title: str
    subtitle: str
    running: str
    practice: str
    made: str
    page_of: str
    author: str
    sections: tuple[Section, ...]
    file_stem: str
