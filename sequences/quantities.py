"""What a figure of a step is: its name, its unit, which way it may be off, and how a person is told of it.

A quantity is defined where it is judged, in its kind of step or in what kinds share. Page, terminal, record and report
draw any quantity by what stands here, and know none by its words.
"""

from dataclasses import dataclass, field
from enum import StrEnum


class Sense(StrEnum):
    """What a limit of a quantity means."""

    AT_MOST = "at most"
    AT_LEAST = "at least"
    EITHER_WAY = "either way"


@dataclass(frozen=True, slots=True)
class Phrase:
    """A figure as the end of a sentence, after `It was`.

    `text` has places for {size}, {sign}, {way}, {name} and {of}. {way} is `above` or `below` where the figure is surely
    more or less than nought, and else `unsure`. `place` follows where there are several, with a place for {where};
    `absent` is said of what does not run at all, with {places}.
    """

    text: str = "at {size} ({name})"
    above: str = ""
    below: str = ""
    unsure: str = ""
    place: str = ", at {where}"
    absent: str = ""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A kind of figure. `key` names it in records for good; `words` name it for people, with a place for {of}.

    `of` is what the figure is held against, where that belongs to its name. `sense` is None where no step sets a limit
    for it. `meaning` ends the sentence `It is ...`. `short` heads a column.

    `only_beside_its_like`: a figure as found means something only beside the same as left, and the other way round.
    `change` begins a sentence of what was gained, such as `The signal`; `header` is what it is called where the report
    says how the bench was.
    """

    key: str
    words: str
    unit: str = ""
    sense: Sense | None = None
    meaning: str = ""
    phrase: Phrase = field(default=Phrase(), repr=False)
    short: str = ""
    of: str = ""
    only_beside_its_like: bool = False
    change: str = ""
    header: str = ""

    @property
    def name(self) -> str:
        """Give its words, with what it is held against."""
        return self.words.format(of=self.of)
