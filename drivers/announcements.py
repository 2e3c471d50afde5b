"""Instruments that announce themselves on the network by multicast DNS, each with the port it names.

RFC 6762 and 6763; the names of the services as the IANA registers them. The VISA library looks for one of them alone,
and takes its usual port for granted.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import zeroconf

if TYPE_CHECKING:
    from collections.abc import Callable

_ADDRESSES: dict[str, Callable[[str, int], str]] = {
    "_hislip._tcp.local.": lambda host, port: f"TCPIP::{host}::hislip0,{port}::INSTR",
    # The port is the port mapper's, which the VISA library asks in any case.
    "_vxi-11._tcp.local.": lambda host, _: f"TCPIP::{host}::INSTR",
    "_scpi-raw._tcp.local.": lambda host, port: f"TCPIP::{host}::{port}::SOCKET",
}
_REPLY_MS = 1000


def listen_for_announcements(listen_s: float) -> tuple[str, ...]:
    """Ask on every network which instruments there are, and give the VISA addresses that their answers make.

    Args:
        listen_s: How long answers are waited for.

    Raises:
        OSError: No network can be asked.
    """
    heard = _Heard()
    asked = zeroconf.Zeroconf()
    try:
        zeroconf.ServiceBrowser(asked, list(_ADDRESSES), heard)
        time.sleep(listen_s)
    finally:
        asked.close()
    return tuple(sorted(heard.addresses))


class _Heard(zeroconf.ServiceListener):
    """Makes addresses of what is announced. Called on the library's own thread."""

    def __init__(self) -> None:
        self.addresses: set[str] = set()

    def add_service(self, zc: zeroconf.Zeroconf, type_: str, name: str) -> None:
        """Note where a service is; one that does not say so is left out."""
        service = zc.get_service_info(type_, name, _REPLY_MS)
        if service is None or service.port is None:
            return
        for host in service.parsed_addresses(zeroconf.IPVersion.V4Only):
            self.addresses.add(_ADDRESSES[type_](host, service.port))

    def update_service(self, zc: zeroconf.Zeroconf, type_: str, name: str) -> None:
        """Note where a service has moved to."""
        self.add_service(zc, type_, name)

    def remove_service(self, zc: zeroconf.Zeroconf, type_: str, name: str) -> None:
        """Keep what was heard: who is asked and gone says so by not answering."""
