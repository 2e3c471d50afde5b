"""Bodies of bounded length that come in bounded time: one that never ends would hold its place for ever."""

import asyncio
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

from starlette.exceptions import HTTPException

Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]

LONGEST_PAUSE_S = 20.0
"""Between two pieces of a body."""

LARGEST_BODY_BYTES = 1_000_000
"""Of a body that is JSON. Files are counted where they are taken in, each kind by its own bound."""

FILES = ("/photos", "/import")
"""How the addresses end at which a file is taken in."""


def bounded(scope: MutableMapping[str, Any], receive: Receive) -> Receive:
    """Give a `receive` that refuses what is too long or too slow, for one request.

    The refusals are raised as the framework's own errors, since it hides others that are raised while it reads a body.
    """
    length = 0
    whole = False
    is_file = str(scope["path"]).endswith(FILES)

    async def receive_bounded() -> MutableMapping[str, Any]:
        nonlocal length, whole
        if whole:  # what may still come is that the peer goes
            return await receive()
        try:
            message = await asyncio.wait_for(receive(), LONGEST_PAUSE_S)
        except TimeoutError:
            raise HTTPException(408) from None
        length += len(message.get("body", b""))
        whole = not message.get("more_body", False)
        if length > LARGEST_BODY_BYTES and not is_file:
            raise HTTPException(413)
        return message

    return receive_bounded
