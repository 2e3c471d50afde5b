"""In what an instrument's conversation differs from IEEE 488.2 and SCPI-99."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, ClassVar

# What old instruments put before a number: NDCV+1.25E-01, FREQ 455.0E+3.
_LETTERS_BEFORE = re.compile(r"^[A-Za-z%]+[ =:]*(?=[-+.0-9])")


@dataclass(frozen=True, slots=True)
class Conversation:
    """How to talk to it.

    Attributes:
        identify: Whether it knows *IDN?; one that does not is named in the bench file by its dialect.
        errors: What asks for the oldest error; empty where there is no error queue.
        done: Whether it knows *OPC?.
        compound: Whether it takes several commands in one message; found out where it is not known to be False.
        echo: Whether its event status enable register may carry the number that pairs answers with questions.
        ending: What ends each message; answers may end in CR LF or LF.
        letters: Whether its numbers come with letters before them.
        comma: Whether its numbers have a decimal comma.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}

    identify: bool = True
    errors: str = ":SYST:ERR?"
    done: bool = True
    compound: bool = True
    echo: bool = True
    ending: str = "\n"
    letters: bool = False
    comma: bool = False

    def plain_number(self, text: str) -> str:
        """Give a number as IEEE 488.2 writes it."""
        plain = _LETTERS_BEFORE.sub("", text.strip()) if self.letters else text
        return plain.replace(",", ".") if self.comma else plain
