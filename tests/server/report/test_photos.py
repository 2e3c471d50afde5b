"""Photos on paper: upright, small, and without what a camera writes into them."""

import io

import pytest
from PIL import Image

from server.records.attachments import PhotoContent
from server.report.content import Paragraph, Picture
from server.report.photos import LONGEST_SIDE, picture_of
from server.report.record import PhotoEntry
from tests.server.report.jobs import NOON, photo


def entry(content: bytes, media_type: str = "image/jpeg") -> PhotoEntry:
    """Give a photo as the record would."""
    return PhotoEntry("a.jpg", NOON, lambda: PhotoContent("a.jpg", media_type, content))


def opened(picture: Picture | Paragraph) -> Image.Image:
    """Open what would be set."""
    assert isinstance(picture, Picture)
    return Image.open(io.BytesIO(picture.content))


def test_a_photo_taken_on_its_side_stands_upright() -> None:
    """What was at the left of the stored picture is at its top."""
    image = opened(picture_of(entry(photo()))).convert("RGB")
    top, bottom = image.getpixel((10, 5)), image.getpixel((10, 55))
    assert isinstance(top, tuple)
    assert isinstance(bottom, tuple)

    assert image.size == (20, 60)
    assert top[0] > 200
    assert top[1] < 100
    assert min(bottom) > 200


def test_what_the_camera_wrote_stays_out() -> None:
    picture = picture_of(entry(photo()))
    assert isinstance(picture, Picture)

    assert b"CAMERA OF SOMEBODY" in photo()
    assert b"CAMERA OF SOMEBODY" not in picture.content
    assert not opened(picture).getexif()


def test_a_large_photo_is_made_as_small_as_print_needs() -> None:
    content = io.BytesIO()
    Image.new("RGB", (6000, 3000), "grey").save(content, "JPEG")

    assert opened(picture_of(entry(content.getvalue()))).size == (LONGEST_SIDE, LONGEST_SIDE // 2)


@pytest.mark.parametrize("mode", ["RGBA", "P", "LA", "1", "I;16"])
def test_other_kinds_of_picture_are_taken_too(mode: str) -> None:
    content = io.BytesIO()
    Image.new(mode, (40, 30)).save(content, "PNG")

    assert opened(picture_of(entry(content.getvalue(), "image/png"))).size == (40, 30)


def test_a_picture_that_is_none_is_named_in_words() -> None:
    said = picture_of(entry(b"\xff\xd8\xffand then nothing"))

    assert isinstance(said, Paragraph)
    assert said.text == "The photo a.jpg, 14 March 2026, 12:00 UTC is in the record, and cannot be shown here."
