"""Looking for instruments, only when a person asks for it: it takes seconds and speaks to everything it finds."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import zeroconf

from drivers.announcements import listen_for_announcements
from drivers.dialect import Model, find_model
from drivers.dialect_files import shipped_models
from drivers.errors import DriverError
from drivers.link import Link
from drivers.transport import VisaTransport, list_addresses

if TYPE_CHECKING:
    from collections.abc import Iterable

    from drivers.identity import Identity

_AT_ONCE = 8
_LISTEN_S = 2.0


@dataclass(frozen=True, slots=True)
class Found:
    """What is known of one address. `roles` is empty for an instrument no catalogue row names: it may still fit one."""

    address: str
    identity: Identity | None
    roles: tuple[str, ...] = ()
    problem: str | None = None


def discover(
    addresses: Iterable[str] = (),
    *,
    search: bool = True,
    search_s: float = 8.0,
    timeout_s: float = 2.0,
    models: tuple[Model, ...] | None = None,
) -> tuple[Found, ...]:
    """Ask who answers at the given addresses and, with `search`, at those that announce themselves. Never raises.

    Args:
        addresses: VISA addresses to try whatever happens; a plain SOCKET is never found by searching.
        search: Whether to look on the networks and buses too.
        search_s: How long to look there at most.
        timeout_s: How long each address gets to answer.
        models: The catalogue that tells the roles.
    """
    announced = _search(search_s) if search else ()
    wanted = tuple(dict.fromkeys((*addresses, *announced)))
    hosts = [[address for address in wanted if _host(address) == host] for host in dict.fromkeys(map(_host, wanted))]
    ask = partial(_ask_each, timeout_s=timeout_s, models=shipped_models() if models is None else models)
    with ThreadPoolExecutor(_AT_ONCE) as pool:
        found = {one.address: one for asked in pool.map(ask, hosts) for one in asked}
    return tuple(found[address] for address in wanted)


def _search(search_s: float) -> tuple[str, ...]:
    """Listen and look at the same time."""
    with ThreadPoolExecutor(1) as pool:
        heard = pool.submit(listen_for_announcements, min(search_s, _LISTEN_S))
        listed = list_addresses(search_s)
        try:
            return (*listed, *heard.result())
        except (OSError, zeroconf.Error):  # no network, or a system's own name service in the way: no news here
            return listed


def _host(address: str) -> str:
    """Tell what an address is at: an instrument that announces three ways in may serve one at a time."""
    parts = address.split("::")
    return parts[1].partition(",")[0] if parts[0].upper().startswith("TCPIP") and len(parts) > 1 else address


def _ask_each(addresses: Iterable[str], *, timeout_s: float, models: tuple[Model, ...]) -> tuple[Found, ...]:
    return tuple(_ask(address, timeout_s=timeout_s, models=models) for address in addresses)


def _ask(address: str, *, timeout_s: float, models: tuple[Model, ...]) -> Found:
    link = Link(VisaTransport(address), timeout_s=timeout_s, only_ask=True)
    try:
        identity = link.open()
    except DriverError as error:
        return Found(address, None, problem=str(error))
    finally:
        link.give_up(hold_back=False)
    model = find_model(identity, models)
    return Found(address, identity, model.roles if model else ())
