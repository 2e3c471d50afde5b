"""Ethernet-to-GPIB adapters: one link to the adapter, shared by the instruments behind it."""

from __future__ import annotations

import contextlib
import threading
from typing import Any, ClassVar

from drivers.carriers import mend_socket

# How long the adapter waits for the next byte of an answer; the 50 ms it begins with are shorter than most readings.
_BYTE_PATIENCE_MS = 3000


class Adapter:
    """The open link to one adapter, as long as an instrument behind it is open."""

    _open: ClassVar[dict[str, Adapter]] = {}
    _lock: ClassVar[threading.Lock] = threading.Lock()

    def __init__(self, address: str, resource: Any) -> None:  # noqa: ANN401 - of the backend, which has no types
        self._address = address
        self._resource = resource
        self._users = 0

    @classmethod
    def of(cls, address: str, manager: Any, open_timeout_ms: int) -> Adapter:  # noqa: ANN401 - the same
        """Open the adapter at an address, or give the one that is open."""
        with cls._lock:
            adapter = cls._open.get(address)
            if adapter is None:
                adapter = cls._open[address] = cls(address, _opened(manager, address, open_timeout_ms))
            adapter._users += 1
            return adapter

    def release(self) -> None:
        """Close the link once nobody uses it. After an error all do, and open it afresh."""
        with self._lock:
            self._users -= 1
            if self._users > 0:
                return
            self._open.pop(self._address, None)
        with contextlib.suppress(Exception):  # a dead link may fail to close in any way
            self._resource.close()


def _opened(manager: Any, address: str, open_timeout_ms: int) -> Any:  # noqa: ANN401 - the same
    resource = manager.open_resource(address, open_timeout=open_timeout_ms)
    session: Any = getattr(manager.visalib, "sessions", {}).get(resource.session)
    raw: Any = getattr(session, "interface", None)
    try:
        if hasattr(raw, "setsockopt"):
            mend_socket(raw)
        session.write_oob(f"++read_tmo_ms {_BYTE_PATIENCE_MS}\n".encode())
    except Exception:
        resource.close()
        raise
    return resource
