"""What can be scanned on this bench: the targets of the shipped receivers and of the person's own files."""

from collections.abc import Iterable
from pathlib import Path

from sequences.errors import SequenceError
from sequences.receiver.targets import ScanTarget, load_receiver, scan_targets, shipped_receivers
from server.errors import ReceiverListError, UnknownThing
from server.plain import Json, to_plain


class TargetList:
    """Scan targets by id, in the order the receivers were named."""

    def __init__(self, targets: Iterable[ScanTarget]) -> None:
        self._targets = {target.id: target for target in targets}

    @classmethod
    def read(cls, receiver_files: Iterable[Path]) -> "TargetList":
        """Read the shipped receivers and then the given files; a file with a shipped receiver's id replaces it.

        Raises:
            ReceiverListError: a file cannot be used; the sentence names it, the key and what is allowed.
        """
        receivers = {receiver.id: receiver for receiver in shipped_receivers()}
        for path in receiver_files:
            try:
                receiver = load_receiver(path)
            except SequenceError as error:
                raise ReceiverListError(str(error)) from error
            receivers[receiver.id] = receiver
        return cls(target for receiver in receivers.values() for target in scan_targets(receiver))

    def __getitem__(self, ident: str) -> ScanTarget:
        """Find a target.

        Raises:
            UnknownThing: there is none of that id.
        """
        try:
            return self._targets[ident]
        except KeyError:
            raise UnknownThing(f'There is no target "{ident}"; GET /api/targets lists those there are.') from None

    def to_plain(self) -> list[Json]:
        """Give the list as the API shows it."""
        return [target_to_plain(target) for target in self._targets.values()]


def target_to_plain(target: ScanTarget) -> dict[str, Json]:
    """Give one target as the API shows it."""
    plain: dict[str, Json] = to_plain(target)
    plain["receiver"] = plain.pop("receiver_name")
    return plain
