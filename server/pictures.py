"""Which kind of picture a file is, by its content and never by what it is called."""

from server.errors import OrderRefused

LARGEST_PHOTO_BYTES = 10_000_000
"""A phone's photo has 3 to 8 MB."""

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
