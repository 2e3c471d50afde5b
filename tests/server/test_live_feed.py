"""The live feed numbers what happens and replays what a page missed."""

import asyncio
from collections.abc import Callable
from threading import Thread

import pytest

from server.bench import live_feed as live
from server.bench.live_feed import LiveFeed


@pytest.fixture
def feed() -> LiveFeed:
    """A feed whose first item is number 100."""
    return LiveFeed(first_number=100)


def bodies(feed: LiveFeed, after: int) -> list[str | None]:
    """Give what followed a number."""
    return [item.body for item in feed.since(after).items]


def test_items_are_numbered_one_by_one(feed: LiveFeed) -> None:
    """The numbers are what a page names when it comes back."""
    feed.publish({"a": 1})
    feed.publish_bench_change()
    feed.publish({"b": 2})

    batch = feed.since(99)

    assert [(item.number, item.body) for item in batch.items] == [(100, '{"a":1}'), (101, None), (102, '{"b":2}')]
    assert (batch.last, batch.missed) == (102, False)


def test_a_page_gets_only_what_it_has_not_seen(feed: LiveFeed) -> None:
    """It names the last number it has."""
    for number in range(5):
        feed.publish(number)

    assert bodies(feed, 102) == ["3", "4"]
    assert bodies(feed, 104) == []


def test_an_empty_feed_misses_nothing(feed: LiveFeed) -> None:
    """A page that opens first has seen all there is."""
    batch = feed.since(feed.last)

    assert (batch.items, batch.missed, batch.last) == ((), False, 99)


@pytest.mark.parametrize("number", [5, 98, 103])
def test_a_number_of_another_life_has_missed_something(feed: LiveFeed, number: int) -> None:
    """Too old for the ring, or never given out: either way the page must read all again."""
    feed.publish(1)
    feed.publish(2)

    batch = feed.since(number)

    assert batch.missed
    assert batch.items == ()
    assert batch.last == 101


def test_the_ring_forgets_the_oldest_and_says_so(feed: LiveFeed, monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory is bounded, and silence about a gap would be a lie."""
    monkeypatch.setattr(live, "RING_ITEMS", 3)
    for number in range(5):
        feed.publish(number)

    assert feed.since(100).missed
    assert bodies(feed, 101) == ["2", "3", "4"]


def test_the_ring_is_bounded_in_characters_too(feed: LiveFeed, monkeypatch: pytest.MonkeyPatch) -> None:
    """A partial fit carries a whole curve."""
    monkeypatch.setattr(live, "RING_CHARACTERS", 10)
    for text in ("aaaa", "bbbb", "c"):
        feed.publish(text)

    assert bodies(feed, 101) == ['"c"']
    assert feed.since(99).missed


def test_a_listener_is_woken_from_another_thread(feed: LiveFeed) -> None:
    """The worker publishes from its own."""

    async def listen() -> bool:
        with feed.listening() as bell:
            Thread(target=feed.publish, args=("news",)).start()
            return await bell.wait(30.0)

    assert asyncio.run(listen())


def test_a_silent_feed_wakes_nobody(feed: LiveFeed) -> None:
    """The wait ends by its own bound."""

    async def listen() -> bool:
        with feed.listening() as bell:
            return await bell.wait(0.01)

    assert not asyncio.run(listen())


def test_closing_wakes_every_listener(feed: LiveFeed) -> None:
    """Or an open stream would hold up the shutdown."""

    async def listen() -> list[bool]:
        with feed.listening() as one, feed.listening() as two:
            Thread(target=feed.close).start()
            return [await one.wait(30.0), await two.wait(30.0)]

    assert asyncio.run(listen()) == [True, True]
    assert feed.closed


def test_publishing_after_a_loop_has_ended_harms_nobody(feed: LiveFeed) -> None:
    """The worker may outlive the web server by one reading."""

    async def leave_a_listener_behind() -> None:
        feed.listening().__enter__()  # a stream cut off with its loop

    asyncio.run(leave_a_listener_behind())
    feed.publish("news")

    assert bodies(feed, 99) == ['"news"']


class LoopThatIsQuicker:
    """An event loop that has rung before whoever asked it to comes back from asking."""

    def call_soon_threadsafe(self, call: Callable[[], None]) -> None:
        """Call at once."""
        call()


def test_a_loop_that_rings_before_the_asking_is_over_is_asked_again() -> None:
    """Publishing and ringing are in two threads: each thing that happens must reach the streams."""
    ringer, rung = live._Ringer(LoopThatIsQuicker()), list[int]()  # type: ignore[arg-type]  # noqa: SLF001

    class Bell(live._Bell):  # noqa: SLF001
        def ring(self) -> None:
            rung.append(1)

    ringer.bells.add(Bell())
    ringer.ask()
    ringer.ask()

    assert len(rung) == 2
