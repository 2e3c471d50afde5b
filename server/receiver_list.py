"""The receivers this bench knows: those that ship, and the person's own files."""

from collections.abc import Iterable, Iterator
from pathlib import Path

from sequences.errors import SequenceError
from sequences.receiver.file import ReceiverFile, load_receiver_file, shipped_receiver_files
from server.errors import ReceiverListError, UnknownThing


class ReceiverList:
    """Receivers with the texts of their files, by id, in the order they were named."""

    def __init__(self, receiver_files: Iterable[ReceiverFile]) -> None:
        """Hold these; a later one of the same id replaces an earlier one."""
        self._files = {one.receiver.id: one for one in receiver_files}

    @classmethod
    def read(cls, paths: Iterable[Path]) -> "ReceiverList":
        """Read the shipped receivers and then the given files; a file with a shipped receiver's id replaces it.

        Raises:
            ReceiverListError: a file cannot be used; the sentence names it, the key and what is allowed.
        """
        try:
            own = [load_receiver_file(path) for path in paths]
        except SequenceError as error:
            raise ReceiverListError(str(error)) from error
        return cls((*shipped_receiver_files(), *own))

    def __getitem__(self, ident: str) -> ReceiverFile:
        """Find a receiver.

        Raises:
            UnknownThing: there is none of that id.
        """
        try:
            return self._files[ident]
        except KeyError:
            raise UnknownThing(f'There is no receiver "{ident}"; GET /api/receivers lists those there are.') from None

    def __iter__(self) -> Iterator[ReceiverFile]:
        """Go through them in order."""
        return iter(self._files.values())
