"""A report as a PDF, set by Typst with the fonts it brings along: the same on every machine, plots as vectors."""

import dataclasses
import json
import re
import tempfile
from datetime import datetime
from enum import StrEnum
from importlib.resources import files
from pathlib import Path
from typing import Any

from server.report.content import Drawing, Picture, Report

TEMPLATE = "report.typ"

BREAK = "\u200b"
LONG_WORD = re.compile(r"[^\s\u00a0\u202f]{25,}")
LONG_PIECE = re.compile(rf"[^{BREAK}]{{25}}(?=[^{BREAK}])")
SIGNS = re.compile(r"[,:;/_-](?=.)")


class Paper(StrEnum):
    """The sheets it can be set for."""

    A4 = "a4"
    LETTER = "letter"


def pdf_report(report: Report, paper: Paper, now: datetime) -> bytes:
    """Set a report as PDF; `now` is what the file says of when it was made. Takes a second or so."""
    import typst  # noqa: PLC0415 - thirty megabytes that only a PDF needs

    with tempfile.TemporaryDirectory(prefix="peakwright-report-") as folder:
        room = Path(folder)
        (room / TEMPLATE).write_bytes(files("server.report").joinpath(TEMPLATE).read_bytes())
        content = _Files(room).plain(report)
        (room / "report.json").write_text(json.dumps(content, ensure_ascii=False), encoding="utf-8")
        pdf: bytes = typst.compile(
            str(room / TEMPLATE),
            root=str(room),
            ignore_system_fonts=True,
            sys_inputs={"paper": "us-letter" if paper is Paper.LETTER else "a4"},
            timestamp=int(now.timestamp()),
        )
        return pdf


def breakable(text: str) -> str:
    """Let words break that are too long for a line, as an instrument's name for itself: at a sign, else anywhere.

    A browser does so by itself.
    """
    return LONG_WORD.sub(lambda word: LONG_PIECE.sub(rf"\g<0>{BREAK}", SIGNS.sub(rf"\g<0>{BREAK}", word[0])), text)


class _Files:
    """Puts plots and photos beside the template, as files that it can name."""

    def __init__(self, room: Path) -> None:
        self._room = room
        self._count = 0

    def plain(self, value: object) -> Any:  # noqa: ANN401 - JSON
        """Give content as JSON, each block with its kind, each plot and photo as the name of its file."""
        if isinstance(value, Drawing):
            return {
                "kind": "Drawing",
                "caption": value.caption,
                "says": value.says,
                "file": self._keep(value.svg.encode(), "svg"),
            }
        if isinstance(value, Picture):
            return {"kind": "Picture", "caption": value.caption, "file": self._keep(value.content, "jpg")}
        if dataclasses.is_dataclass(value):
            fields = {each.name: self.plain(getattr(value, each.name)) for each in dataclasses.fields(value)}
            return {"kind": type(value).__name__, **fields}
        if isinstance(value, tuple):
            return [self.plain(item) for item in value]
        return breakable(value) if isinstance(value, str) else value

    def _keep(self, content: bytes, ending: str) -> str:
        self._count += 1
        name = f"{self._count}.{ending}"
        (self._room / name).write_bytes(content)
        return name
