"""The HTML: one file, sound, nothing from elsewhere, no script, and no word that was typed in becomes markup."""

import dataclasses
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator

import html5lib
import pytest

from server.report.content import Report, Table
from server.report.html import html_report
from tests.server.report.jobs import IDENTITY, MAKE, OWNER, REMARK
from tests.server.report.reading import words

HTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"
REFERENCES = ("src", "href", "srcset", "data", "action", "poster", "{http://www.w3.org/1999/xlink}href")


@pytest.fixture(scope="module")
def text(report: Report) -> str:
    """The report as HTML."""
    return html_report(report)


@pytest.fixture(scope="module")
def tree(text: str) -> ET.Element:
    """The same, read strictly: a fault against the HTML standard fails."""
    root: ET.Element = html5lib.HTMLParser(strict=True, tree=html5lib.getTreeBuilder("etree")).parse(text)
    return root


def texts(tree: ET.Element, *names: str) -> Iterator[str]:
    """Give the text of each element of a name."""
    for name in names:
        for element in tree.iter(f"{HTML}{name}"):
            yield "".join(element.itertext())


def test_it_is_sound_html_in_one_language(tree: ET.Element) -> None:
    assert tree.get("lang") == "en"
    assert next(texts(tree, "title")) == f"Alignment of {MAKE} Skerry 7, serial 12/34 #5"
    assert [element.tag for element in tree.iter(f"{HTML}script")] == []


def test_nothing_is_fetched_from_elsewhere(text: str, tree: ET.Element) -> None:
    references = [value for element in tree.iter() for name in REFERENCES if (value := element.get(name)) is not None]

    assert references
    assert all(reference.startswith("data:image/jpeg;base64,") for reference in references)
    assert "url(" not in text
    assert "@import" not in text
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", text)


def test_no_word_that_was_typed_in_becomes_markup(tree: ET.Element) -> None:
    said = list(texts(tree, "dd"))

    assert OWNER in said
    assert REMARK in said
    assert not list(tree.iter(f"{HTML}b"))


def test_no_element_says_what_happens_when_it_is_clicked(tree: ET.Element) -> None:
    assert not [name for element in tree.iter() for name in element.attrib if name.startswith("on")]


def test_every_word_of_the_report_is_there(report: Report, tree: ET.Element) -> None:
    said = re.sub(r"\s+", " ", "".join(tree.itertext()).replace("\u00a0", " ").replace("\u202f", " "))
    alternatives = " ".join(element.get("alt", "") for element in tree.iter(f"{HTML}img"))
    labels = " ".join(element.get("aria-label", "") for element in tree.iter(f"{SVG}svg"))
    control = {"bench", report.page_of, report.author, report.file_stem, "image/jpeg", report.running}
    tones = {"good", "put right", "close", "bad", "plain"}
    for word in set(words(report)) - control - tones:
        shown = re.sub(r"\s+", " ", word.replace("\u00a0", " ").replace("\u202f", " ")).strip()
        assert shown in said + alternatives + labels, word


def test_tables_have_captions_and_headed_columns_and_rows(report: Report, tree: ET.Element) -> None:
    tables = [block for section in report.sections for block in section.blocks if isinstance(block, Table)]

    assert list(texts(tree, "caption")) == [table.caption for table in tables]
    assert all(element.get("scope") for element in tree.iter(f"{HTML}th"))
    assert IDENTITY in list(texts(tree, "td"))


def test_a_group_of_rows_is_one_part_of_its_table_which_paper_does_not_break(tree: ET.Element) -> None:
    parts = [part for part in tree.iter(f"{HTML}tbody") if part.find(f"{HTML}tr[@class='group']") is not None]

    assert parts
    assert all(part[0].get("class") == "group" for part in parts)
    assert all(sum(row.get("class") == "group" for row in part) == 1 for part in parts)
    assert all(len(part) > 1 for part in parts)


def test_plots_are_vectors_with_words_for_who_cannot_see_them(tree: ET.Element) -> None:
    plots = list(tree.iter(f"{SVG}svg"))

    assert len(plots) == 2
    assert all(plot.get("role") == "img" and plot.get("aria-label") for plot in plots)
    assert not [element for plot in plots for element in plot.iter(f"{SVG}image")]


def test_a_running_head_cannot_end_its_style_sheet(report: Report) -> None:
    """The make stands in quotes in the style sheet, and is any text."""
    hostile = dataclasses.replace(report, running='"} </style><script>alert(1)</script>')
    tree = html5lib.HTMLParser(strict=True).parse(html_report(hostile))

    assert len(list(tree.iter(f"{HTML}style"))) == 1
    assert not list(tree.iter(f"{HTML}script"))
