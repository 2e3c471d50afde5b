"""Who an instrument says it is, as IEEE 488.2 section 10.14 lays it out."""

from __future__ import annotations

import re
from dataclasses import dataclass

_FEWEST_FIELDS = 2
# Escape sequences of terminals (ECMA-48) whole, then whatever else is not to be printed: a name is shown to a person.
_UNPRINTABLE = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)?|\x1b.?|[\x00-\x1f\x7f]")
_NUMBER = re.compile(r"[-+0-9.eE]+")


@dataclass(frozen=True, slots=True)
class Identity:
    """What an instrument says it is: four fields and a comma between each."""

    maker: str
    model: str
    serial: str = ""
    firmware: str = ""

    def __str__(self) -> str:
        return ", ".join(field for field in (self.maker, self.model, self.serial, self.firmware) if field)


def parse_identity(reply: str) -> Identity | None:
    """Read the reply of *IDN?. None where it is something else, such as a late number or a line of the error queue."""
    fields = [field.strip() for field in _UNPRINTABLE.sub("", reply).split(",", 3)]
    if len(fields) < _FEWEST_FIELDS or not fields[0] or not fields[1]:
        return None
    if ";" in fields[0] or fields[1].startswith(('"', "'")) or _NUMBER.fullmatch(fields[0]):
        return None
    return Identity(*fields)
