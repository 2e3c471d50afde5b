"""The PDF: text that can be read out, plots that are vectors, pages that are numbered, sheets of the size asked for."""

import io

import numpy as np
import pypdf
import pypdfium2
import pytest

from server.report.content import Report
from server.report.pdf import Paper, pdf_report
from tests.server.report.jobs import MAKE, NOON
from tests.server.report.reading import IDENTITY, with_long_words

SIZES = {Paper.A4: (595.28, 841.89), Paper.LETTER: (612.0, 792.0)}
"""ISO 216 and ANSI Y14.1, in points of 1/72 inch."""


def read(content: bytes) -> pypdf.PdfReader:
    """Open a PDF."""
    return pypdf.PdfReader(io.BytesIO(content))


@pytest.fixture(scope="module")
def pdf(report: Report) -> pypdf.PdfReader:
    """The report on A4."""
    return read(pdf_report(report, Paper.A4, NOON))


def plain(text: str) -> str:
    """Undo line breaks and hard spaces."""
    return " ".join(text.replace("\u00a0", " ").replace("\u202f", " ").split())


@pytest.mark.parametrize("paper", Paper)
def test_sheets_are_of_the_size_asked_for(report: Report, paper: Paper) -> None:
    pages = read(pdf_report(report, paper, NOON)).pages

    for page in pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(SIZES[paper], abs=0.1)


def test_every_page_says_what_it_is_of_how_many_and_what_made_it(pdf: pypdf.PdfReader) -> None:
    total = len(pdf.pages)

    assert total > 3
    for number, page in enumerate(pdf.pages, 1):
        said = plain(page.extract_text())
        assert f"page {number} of {total}" in said
        assert "Made by Peakwright" in said
        assert "14 March 2026, 12:00 UTC" in said
        assert f"{MAKE} Skerry 7, serial 12/34 #5, job 1" in said


def test_words_can_be_read_out_as_they_are(pdf: pypdf.PdfReader) -> None:
    said = plain(" ".join(page.extract_text() for page in pdf.pages))

    assert "Reed & Daughters <script>alert('1')</script>" in said
    assert "\u2212334.7 \u00b1 1.9 Hz" in said
    assert "Was beyond its limit" in said
    assert "A part may have failed or drifted" in said


def test_it_says_its_title_language_and_structure_to_a_reading_aid(pdf: pypdf.PdfReader) -> None:
    assert pdf.metadata is not None
    assert pdf.metadata.title == f"Alignment of {MAKE} Skerry 7, serial 12/34 #5"
    assert str(pdf.root_object["/Lang"]).startswith("en")
    assert "/StructTreeRoot" in pdf.root_object
    titles = [entry.title for entry in pdf.outline if isinstance(entry, pypdf.generic.Destination)]
    assert titles[:3] == ["Summary", "Receiver", "Bench"]


def test_plots_are_vectors_and_only_the_photo_is_an_image(pdf: pypdf.PdfReader) -> None:
    assert sum(len(page.images) for page in pdf.pages) == 1


def test_fonts_are_inside(pdf: pypdf.PdfReader) -> None:
    """Whoever opens it in ten years needs none of their own."""
    for page in pdf.pages:
        fonts = entry(entry(page, "/Resources"), "/Font")
        for name in fonts:
            descendants = entry(fonts, name)["/DescendantFonts"]
            assert isinstance(descendants, pypdf.generic.ArrayObject)
            descendant = descendants[0].get_object()
            assert isinstance(descendant, pypdf.generic.DictionaryObject)
            assert {"/FontFile2", "/FontFile3"} & set(entry(descendant, "/FontDescriptor"))


def entry(of: pypdf.generic.DictionaryObject, name: str) -> pypdf.generic.DictionaryObject:
    """Give a dictionary in a dictionary."""
    found = of[name].get_object()
    assert isinstance(found, pypdf.generic.DictionaryObject)
    return found


def test_practice_is_marked_on_every_page(practice_report: Report) -> None:
    pages = read(pdf_report(practice_report, Paper.LETTER, NOON)).pages

    assert all("Practice: a simulated receiver, no real one" in plain(page.extract_text()) for page in pages)


@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("long", [False, True])
def test_nothing_runs_into_the_margins(report: Report, paper: Paper, *, long: bool) -> None:
    """Rendered: 12 mm at either side stay white, which no printer needs."""
    shown = with_long_words(report) if long else report
    for page in pypdfium2.PdfDocument(pdf_report(shown, paper, NOON)):
        pixels = np.asarray(page.render(scale=1.0).to_pil().convert("L"))
        edge = int(12 / 25.4 * 72)
        assert pixels[:, :edge].min() == 255
        assert pixels[:, -edge:].min() == 255


def test_a_word_that_was_broken_is_copied_whole(report: Report) -> None:
    """Nothing is put into it where it breaks, no hyphen and no sign that cannot be seen."""
    pages = read(pdf_report(with_long_words(report), Paper.A4, NOON)).pages
    said = "".join(pages[0].extract_text().split())

    assert "".join(IDENTITY.split()) in said
    assert "W" * 120 in said


def test_the_same_report_gives_the_same_file(report: Report) -> None:
    assert pdf_report(report, Paper.A4, NOON) == pdf_report(report, Paper.A4, NOON)
