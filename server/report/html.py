"""A report as one HTML file: styles, plots and photos inside it, nothing from elsewhere, no script."""

import base64
import re
from functools import cache
from typing import TYPE_CHECKING

from server.report.content import Block, Report

if TYPE_CHECKING:
    from jinja2 import Template


def html_report(report: Report) -> str:
    """Set a report as HTML."""
    return _template().render(report=report, kind_of=_kind_of, data_url=_data_url, css=_css)


@cache
def _template() -> "Template":
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - not needed to serve the page

    environment = Environment(
        loader=PackageLoader("server", "report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("report.html.jinja")


def _kind_of(block: Block) -> str:
    return type(block).__name__


def _data_url(content: bytes, media_type: str) -> str:
    return f"data:{media_type};base64,{base64.b64encode(content).decode('ascii')}"


def _css(text: str) -> str:
    """Write a text for the margin of a page, in quotes that it cannot end; {page} and {pages} are counted."""
    parts = re.split(r"\{(pages?)\}", text)
    return " ".join(f"counter({part})" if place % 2 else f'"{_quoted(part)}"' for place, part in enumerate(parts))


def _quoted(text: str) -> str:
    return "".join(letter if letter.isalnum() or letter in " ,." else f"\\{ord(letter):x} " for letter in text)
