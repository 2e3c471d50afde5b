"""The file of a record: for its owner's eyes alone, and watched, since what is written into a moved file is lost."""

import os
from contextlib import suppress
from pathlib import Path

from platformdirs import user_data_path

from server.errors import StoreError

OWNERS_FOLDER = 0o700
OWNERS_FILE = 0o600
OTHERS = 0o077
BESIDE = ("", "-wal", "-shm")
"""What SQLite keeps: the file, its log of late writes, and the index of that."""


def make_private_folder(folder: Path) -> None:
    """Make a folder for its owner alone. One that stands already stays as it is, but for the program's own.

    Raises:
        OSError: it cannot be made.
    """
    made = [each for each in (folder, *folder.parents) if not each.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    own = user_data_path("peakwright")
    for each in (*made, *([own] if own in {folder, *folder.parents} else [])):
        with suppress(OSError):  # a folder of somebody else, or a file system without rights
            each.chmod(OWNERS_FOLDER)


class RecordFile:
    """One file, and whether it is still the one that was opened."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._opened: tuple[int, int] | None = None

    def prepare(self) -> None:
        """Make a new file so that nobody else ever could read it, not even before its rights are set."""
        with suppress(OSError):  # it stands already, or SQLite says what is wrong
            os.close(os.open(self._path, os.O_CREAT | os.O_EXCL | os.O_RDWR, OWNERS_FILE))

    def taken(self) -> None:
        """Know it as the record from here on, and take it from the eyes of others."""
        self._opened = self._identity()
        for ending in BESIDE:
            file = self._path.with_name(self._path.name + ending)
            with suppress(OSError):
                if file.stat().st_mode & OTHERS:
                    file.chmod(OWNERS_FILE)

    def require(self) -> None:
        """Refuse to go on with a file that is no longer there.

        Raises:
            StoreError: it was moved, deleted or replaced.
        """
        if self._opened is not None and self._identity() != self._opened:
            raise StoreError(
                f"The record {self._path} was moved, deleted or replaced while it was in use. Stop the program, put "
                "the file back and start again; what was read until now is in the file that was there."
            )

    def _identity(self) -> tuple[int, int] | None:
        try:
            stat = self._path.stat()
        except OSError:
            return None
        return stat.st_dev, stat.st_ino
