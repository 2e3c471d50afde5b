r"""The live stream: server-sent events, one stream a page.

Each message is a JSON list, its `id` the number of its last item. Items:

    {"run": 7, "seq": 12, "event": {"kind": "ReadingTaken", ...}}    what a run emitted, in order
    {"job": 3}                                               the job changed: read it again
    {"bench": {...}}                                                 how the bench stands, as GET /api/bench gives it
    {"missed": true}                                                 what came since Last-Event-ID is no longer at hand:
                                                                     read the bench and the run again

A stream begins with the bench. With `Last-Event-ID` it goes on from there; without, from now.
"""

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Header, Query
from fastapi.sse import KEEPALIVE_COMMENT, EventSourceResponse, format_sse_event

from server.api.live import Batch
from server.api.service import Service
from server.plain import dump
from server.routes.parts import Client, ServiceDep

TOGETHER_S = 0.002
"""What belongs together (a reading, its level, guidance by it) comes within this, and goes in one message."""

SPACING_S = 0.01
"""Messages are no closer than this: a fast sweep costs a hundred a second and not thousands, and nothing else waits."""

KEEPALIVE_S = 2.0
"""A silent stream is proved this often. A client that is gone is noticed by the failed proof."""

router = APIRouter(prefix="/api")


@router.get("/live", response_model=None)
async def live(
    service: ServiceDep,
    client: Client,
    last_event_id: Annotated[str | None, Header()] = None,
    after: Annotated[str | None, Query()] = None,
) -> EventSourceResponse:
    """Stream what happens. `?after=` stands for the Last-Event-ID header where none can be set."""
    stream = _stream(service, client, last_event_id or after)
    return EventSourceResponse(stream, headers={"X-Accel-Buffering": "no"})


async def _stream(service: Service, client: str | None, last_seen: str | None) -> AsyncIterator[bytes]:
    feed = service.feed
    with service.seat.watching(client), feed.listening() as bell:
        position = int(last_seen) if last_seen and last_seen.isdecimal() else feed.last
        batch = feed.since(position)
        yield _message(batch, service, client, greet=True)
        clock = asyncio.get_running_loop().time
        sent_s = clock()
        while not feed.closed:
            if not await bell.wait(KEEPALIVE_S):
                yield KEEPALIVE_COMMENT
                continue
            await asyncio.sleep(max(TOGETHER_S, sent_s + SPACING_S - clock()))
            sent_s = clock()
            batch = feed.since(batch.last)
            if batch.items or batch.missed:
                yield _message(batch, service, client, greet=False)


def _message(batch: Batch, service: Service, client: str | None, *, greet: bool) -> bytes:
    bodies = [item.body for item in batch.items if item.body is not None]
    if greet or batch.missed or len(bodies) < len(batch.items):
        bodies.append(dump({"bench": service.bench_for(client)}))  # once, as it stands now: later than all before it
    if batch.missed:
        bodies.insert(0, json.dumps({"missed": True}))
    return format_sse_event(data_str=f"[{','.join(bodies)}]", event="message", id=str(batch.last))
