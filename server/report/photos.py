"""Photos made fit for paper: upright, no larger than print needs, and without what a camera writes into them."""

import io

from server.pictures import MOST_PIXELS
from server.report.content import Paragraph, Picture
from server.report.record import PhotoEntry
from server.report.times import say_time

LONGEST_SIDE = 1400
"""Pixels: 200 to the inch over the width of a page."""

JPEG_QUALITY = 82
PLAIN_MODES = frozenset({"L", "RGB"})


def picture_of(photo: PhotoEntry) -> Picture | Paragraph:
    """Give a photo to be set; one that cannot be opened is named in words.

    It is turned upright and written anew, so that place and owner of the camera stay out of a customer's report.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError  # noqa: PLC0415 - only a job with photos needs it

    caption = f"{photo.name}, {say_time(photo.at_utc)}"
    try:
        with Image.open(io.BytesIO(photo.content().content)) as opened:
            if opened.width * opened.height > MOST_PIXELS:  # kept before photos were measured as they come in
                return Paragraph(f"The photo {caption} is in the record, and is too large to be shown here.")
            opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            opened.thumbnail((LONGEST_SIDE, LONGEST_SIDE))  # first, since to be turned it is copied
            image = ImageOps.exif_transpose(opened)
            plain = image if image.mode in PLAIN_MODES else image.convert("RGB")
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError):
        return Paragraph(f"The photo {caption} is in the record, and cannot be shown here.")
    written = io.BytesIO()
    plain.save(written, "JPEG", quality=JPEG_QUALITY)
    return Picture(written.getvalue(), "image/jpeg", caption)
