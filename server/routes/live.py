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

from server.api.service import Service
from server.bench.live_feed import Batch
from server.errors import TooMany
from server.plain import dump
from server.routes.parts import Client, ServiceDep

TOGETHER_S = 0.002
"""What belongs together (a reading, its level, guidance by it) comes within this, and goes in one message."""

SPACING_S = 0.01
"""Messages are no closer than this: a fast sweep costs a hundred a second and not thousands, and nothing else waits."""

AT_FULL_PACE = 2
"""Streams that are served at full pace, whoever they are; of more, those that only watch share that."""

MOST_STREAMS = 100

LONGEST_NUMBER = 20
"""Digits of an item's number."""

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
    if service.feed.listeners >= MOST_STREAMS and client != service.seat.holder:
        raise TooMany(f"{MOST_STREAMS} pages listen already; close one of them first.")
    stream = _stream(service, client, last_event_id or after)
    return EventSourceResponse(stream, headers={"X-Accel-Buffering": "no"})


async def _stream(service: Service, client: str | None, last_seen: str | None) -> AsyncIterator[bytes]:
    feed = service.feed
    with service.seat.watching(client), feed.listening() as bell:
        position = _position(last_seen, feed.last)
        batch = feed.since(position)
        yield _message(batch, service, client, greet=True)
        clock = asyncio.get_running_loop().time
        sent_s = clock()
        while not feed.closed:
            if not await bell.wait(KEEPALIVE_S):
                yield KEEPALIVE_COMMENT
                continue
            await asyncio.sleep(max(TOGETHER_S, sent_s + _spacing_s(service, client) - clock()))
            sent_s = clock()
            batch = feed.since(batch.last)
            if batch.items or batch.missed:
                yield _message(batch, service, client, greet=False)


def _position(last_seen: str | None, now: int) -> int:
    """Give the number that a page has come to; one too long to be any of ours is told to read again."""
    if not last_seen or not last_seen.isdecimal():
        return now
    return int(last_seen) if len(last_seen) <= LONGEST_NUMBER else -1


def _spacing_s(service: Service, client: str | None) -> float:
    """Let who operates hear at once; of many who watch, each hears less often, so that the bench keeps its pace."""
    if client is not None and client == service.seat.holder:
        return SPACING_S
    return SPACING_S * max(1.0, service.feed.listeners / AT_FULL_PACE)


def _message(batch: Batch, service: Service, client: str | None, *, greet: bool) -> bytes:
    bodies = [item.body for item in batch.items if item.body is not None]
    if greet or batch.missed or len(bodies) < len(batch.items):
        bodies.append(dump({"bench": service.bench_for(client)}))  # once, as it stands now: later than all before it
    if batch.missed:
        bodies.insert(0, json.dumps({"missed": True}))
    return format_sse_event(data_str=f"[{','.join(bodies)}]", event="message", id=str(batch.last))
