"""Which answer belongs to which question: proven with each answer, not trusted to the order in which they come.

IEEE 488.2 sections 10.10 and 10.11 give every instrument a byte that can be written and read back at will: the standard
event status enable register. It decides which events are summed up for a service request, and nobody here asks for
one. Each question carries a new number in it and asks for that number back in the same message, before and behind:

    *ESE 113;*ESE?;:READ?;*ESE?        113;+1.25E-01;113

An answer that was doubled, late, merged with another, reordered or cut bears another number, or none, at one of its
ends. An instrument that takes one command a line is asked for the number on lines of its own, after the answer.
"""

from __future__ import annotations

import itertools
import random
from enum import Enum

ALL_BITS = 255
_FEWEST_BITS = 4
PROBE = f"*ESE {ALL_BITS};*ESE?"
TAG_QUESTION = "*ESE?"


class Pairing(Enum):
    """How answers are proven to be those to their questions."""

    IN_THE_MESSAGE = "a number in each message"
    ON_LINES_OF_ITS_OWN = "a number on lines of its own"
    BY_SILENCE = "only that the line was silent before the question"


class UnpairedError(ValueError):
    """The answer is not the one to the question. The message says what shows it."""


class Tags:
    """Numbers that follow one another, of the bits that the instrument keeps."""

    def __init__(self, bits: int = ALL_BITS, seed: int | None = None) -> None:
        """Begin anywhere: what another program left behind must not fit.

        Args:
            bits: The bits of the register that can be set, as it reads after all were.
            seed: Where to begin, for tests.
        """
        kept = [1 << place for place in range(8) if bits >> place & 1]
        numbers = [str(sum(bit for place, bit in enumerate(kept) if n >> place & 1)) for n in range(1 << len(kept))]
        first = random.Random(seed).randrange(len(numbers))  # noqa: S311 - no secret
        self._numbers = itertools.cycle(numbers[first + 1 :] + numbers[: first + 1])

    def next(self) -> str:
        """Give the next number, as it is written and as it is read."""
        return next(self._numbers)


def bits_kept(reply: str) -> int | None:
    """Read the register after every bit was set; None where it does not keep enough of them to tell questions apart."""
    number = _byte(reply)
    return number if number is not None and number.bit_count() >= _FEWEST_BITS else None


def question(tag: str, message: str, *, ends_itself: bool) -> str:
    """Write the message with its number. An answer that `ends_itself` needs no number behind it."""
    return f"*ESE {tag};*ESE?;{message}" if ends_itself else f"*ESE {tag};*ESE?;{message};*ESE?"


def answer(tag: str, reply: str, *, ends_itself: bool) -> str:
    """Give what the reply says besides its numbers.

    Raises:
        UnpairedError: It bears another number, or none.
    """
    first, semicolon, rest = reply.partition(";")
    if not semicolon or not fits(tag, first):
        raise UnpairedError("it is the answer to another question, or part of one")
    if ends_itself:
        return rest
    body, semicolon, last = rest.rpartition(";")
    if not semicolon or not fits(tag, last):
        raise UnpairedError("it is cut short, or runs into another answer")
    return body


def fits(tag: str, part: str) -> bool:
    """Whether a part of a reply is the number."""
    return part == tag or _byte(part) == int(tag)


def _byte(text: str) -> int | None:
    """Read NR1, and what some instruments write in its place (+17, 17.0)."""
    try:
        number = float(text)
    except ValueError:
        return None
    return int(number) if number in range(ALL_BITS + 1) else None
