"""What can be scanned on this bench: the targets of every receiver it knows."""

from collections.abc import Iterable

from sequences.receiver.targets import ScanTarget, scan_targets
from server.errors import UnknownThing
from server.plain import Json, to_plain
from server.receiver_list import ReceiverList


class TargetList:
    """Scan targets by id, in the order the receivers were named."""

    def __init__(self, targets: Iterable[ScanTarget]) -> None:
        self._targets = {target.id: target for target in targets}

    @classmethod
    def of(cls, receivers: ReceiverList) -> "TargetList":
        """List what can be scanned in these receivers."""
        return cls(target for one in receivers for target in scan_targets(one.receiver))

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
