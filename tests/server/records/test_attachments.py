"""Remarks and photos are kept with their job or step."""

import pytest

from server.errors import OrderRefused, UnknownThing
from server.pictures import LARGEST_PHOTO_BYTES
from server.records.attachments import PhotoContent
from server.records.store import Store
from tests.server.records.samples import JOB

# The first bytes of each: ISO/IEC 10918-1 (JPEG), ISO/IEC 15948 (PNG), RFC 9649 (WebP)
PICTURES = {
    "image/jpeg": b"\xff\xd8\xff\xe0and so on",
    "image/png": b"\x89PNG\r\n\x1a\nand so on",
    "image/webp": b"RIFF\x00\x00\x00\x00WEBPVP8 ",
}


def test_remarks_are_kept_by_step_and_job(store: Store) -> None:
    job_id = store.begin_job(JOB)
    numbers = [store.remark(job_id, step, "It hums.") for step in ("filter-t2", None)]

    remarks = store.job(job_id)["remarks"]
    assert [(each["id"], each["step_id"], each["text"]) for each in remarks] == [
        (numbers[0], "filter-t2", "It hums."),
        (numbers[1], None, "It hums."),
    ]
    assert remarks[0]["at_utc"] == "2026-11-25T12:00:00.500Z"


@pytest.mark.parametrize("media_type", PICTURES)
def test_a_photo_comes_back_byte_by_byte(store: Store, media_type: str) -> None:
    job_id = store.begin_job(JOB)
    photo_id = store.photo(job_id, "filter-t2", "chassis.jpg", media_type, PICTURES[media_type])

    assert store.photo_content(photo_id) == PhotoContent("chassis.jpg", media_type, PICTURES[media_type])
    (photo,) = store.job(job_id)["photos"]
    assert (photo["id"], photo["step_id"], photo["name"]) == (photo_id, "filter-t2", "chassis.jpg")
    assert "content" not in photo


@pytest.mark.parametrize(
    ("media_type", "content", "sentence"),
    [
        ("image/svg+xml", b"<svg/>", "no JPEG, PNG or WebP picture"),
        ("image/svg+xml", PICTURES["image/png"], "is image/png and not 'image/svg.xml'"),
        ("image/png", PICTURES["image/jpeg"], "is image/jpeg and not 'image/png'"),
        ("image/png", b"", "no JPEG, PNG or WebP picture"),
        ("image/png", PICTURES["image/png"].ljust(LARGEST_PHOTO_BYTES + 1), "at most 10 MB"),
    ],
)
def test_what_is_no_photo_is_refused(store: Store, media_type: str, content: bytes, sentence: str) -> None:
    job_id = store.begin_job(JOB)

    with pytest.raises(OrderRefused, match=sentence):
        store.photo(job_id, None, "photo", media_type, content)


@pytest.mark.parametrize("text", ["", " \n", "x" * 20_001])
def test_a_remark_that_says_nothing_or_too_much_is_refused(store: Store, text: str) -> None:
    job_id = store.begin_job(JOB)

    with pytest.raises(OrderRefused, match="between 1 and 20000 letters"):
        store.remark(job_id, None, text)


def test_what_is_added_to_no_job_is_refused(store: Store) -> None:
    with pytest.raises(UnknownThing, match="no job number 9"):
        store.remark(9, None, "It hums.")
    with pytest.raises(UnknownThing, match="no job number 9"):
        store.photo(9, None, "photo", "image/png", PICTURES["image/png"])
    with pytest.raises(UnknownThing, match="no photo number 9"):
        store.photo_content(9)
