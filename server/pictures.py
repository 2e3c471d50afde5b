"""Which kind of picture a file is, by its content and never by what it is called."""

import io
import warnings
from contextlib import suppress

from server.errors import OrderRefused

LARGEST_PHOTO_BYTES = 10_000_000
"""A phone's photo has 3 to 8 MB."""

MOST_PIXELS = 50_000_000
"""Unfolded, a picture of a few hundred kilobytes can take gigabytes; a phone takes 12 to 50 million pixels."""

_MARKS = (
    ("image/jpeg", ((0, b"\xff\xd8\xff"),)),  # ITU-T T.81, annex B: SOI, then a marker
    ("image/png", ((0, b"\x89PNG\r\n\x1a\n"),)),  # ISO/IEC 15948, 5.2
    ("image/webp", ((0, b"RIFF"), (8, b"WEBP"))),  # RFC 9649, 2.4
)


def kind_of_picture(content: bytes) -> str:
    """Give the media type of a picture.

    Raises:
        OrderRefused: it is none that is taken.
    """
    for kind, marks in _MARKS:
        if all(content[at : at + len(mark)] == mark for at, mark in marks):
            return kind
    raise OrderRefused("This file is no JPEG, PNG or WebP picture; give one of these.")


def check_pixels(content: bytes) -> None:
    """Refuse a picture that unfolds to more than a photo has. Only its head is read; where there is none, all is well.

    Raises:
        OrderRefused: it does.
    """
    from PIL import Image  # noqa: PLC0415 - only who takes in photos needs it

    pixels = 0
    with suppress(OSError, ValueError, SyntaxError), warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        try:
            with Image.open(io.BytesIO(content)) as opened:
                pixels = opened.width * opened.height
        except Image.DecompressionBombError as error:
            raise _too_many_pixels() from error
    if pixels > MOST_PIXELS:
        raise _too_many_pixels()


def _too_many_pixels() -> OrderRefused:
    return OrderRefused(f"A photo may have at most {MOST_PIXELS // 1_000_000} million pixels; make it smaller.")
