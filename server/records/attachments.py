"""What a person adds to a job: remarks and photos, of a step or of the whole job."""

from dataclasses import dataclass

from sqlalchemy import insert, select

from server.errors import OrderRefused, UnknownThing
from server.pictures import LARGEST_PHOTO_BYTES, check_pixels, kind_of_picture
from server.records.database import LARGEST_NUMBER, Database
from server.records.jobs import find_job
from server.records.tables import PhotoRow, RemarkRow

LONGEST_REMARK = 20_000
LONGEST_NAME = 200


@dataclass(frozen=True, slots=True)
class PhotoContent:
    """A photo with its bytes."""

    name: str
    media_type: str
    content: bytes


class AttachmentRecords(Database):
    """The part of the record that remarks and photos are kept in."""

    def remark(self, job_id: int, step_id: str | None, text: str) -> int:
        """Keep a remark and give its number.

        Raises:
            UnknownThing: there is no such job.
            OrderRefused: it says nothing, or too much.
        """
        if not text.strip() or len(text) > LONGEST_REMARK:
            raise OrderRefused(f"A remark has between 1 and {LONGEST_REMARK} letters; this one has {len(text)}.")
        row = {"job_id": job_id, "step_id": step_id, "at_utc": self._stamp(), "text": text}
        with self._writing() as connection:
            find_job(connection, job_id)
            return int(connection.execute(insert(RemarkRow).values(**row).returning(RemarkRow.id)).scalar_one())

    def photo(self, job_id: int, step_id: str | None, name: str, media_type: str, content: bytes) -> int:
        """Keep a photo and give its number.

        Raises:
            UnknownThing: there is no such job.
            OrderRefused: it is no picture of a kind that is taken, or too large.
        """
        check_photo(media_type, content)
        row = {
            "job_id": job_id,
            "step_id": step_id,
            "at_utc": self._stamp(),
            "name": name[:LONGEST_NAME],
            "media_type": media_type,
            "content": content,
        }
        with self._writing() as connection:
            find_job(connection, job_id)
            return int(connection.execute(insert(PhotoRow).values(**row).returning(PhotoRow.id)).scalar_one())

    def photo_content(self, photo_id: int) -> PhotoContent:
        """Give a photo.

        Raises:
            UnknownThing: there is no such photo.
        """
        question = select(PhotoRow.name, PhotoRow.media_type, PhotoRow.content).where(PhotoRow.id == photo_id)
        with self._reading() as connection:
            row = connection.execute(question).one_or_none() if 0 < photo_id <= LARGEST_NUMBER else None
        if row is None:
            raise UnknownThing(f"There is no photo number {photo_id}.")
        return PhotoContent(*row)


def check_photo(media_type: str, content: bytes) -> None:
    """Refuse what is no photo. A kind of picture that could carry a program of its own is not taken.

    Raises:
        OrderRefused: the sentence says why.
    """
    kind = kind_of_picture(content)
    if kind != media_type:
        raise OrderRefused(f"The photo is {kind} and not '{media_type}', as was said.")
    if len(content) > LARGEST_PHOTO_BYTES:
        raise OrderRefused(f"A photo may have at most {LARGEST_PHOTO_BYTES // 1_000_000} MB; make it smaller.")
    check_pixels(content)
