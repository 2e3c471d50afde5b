"""One run's log: each event is numbered and on disk before it is published."""

import logging
from typing import Any

from sequences.engine.events import Event, RunEnded
from server.bench.live_feed import LiveFeed
from server.errors import StoreError
from server.plain import event_to_plain
from server.records.store import Store


class RunLog:
    """The sink of one run. The last event waits for the result, so that whoever hears of the end finds it."""

    def __init__(self, run_id: int, store: Store, feed: LiveFeed) -> None:
        self._run_id = run_id
        self._store = store
        self._feed = feed
        self._seq = 0
        self.ended: RunEnded | None = None
        """The run's last event, once the engine has given it."""

    def emit(self, event: Event) -> None:
        """Store and publish an event.

        Raises:
            StoreError: it is not on disk, and so was not published; the run must end.
        """
        if isinstance(event, RunEnded):
            self.ended = event
            return
        self._store.keep(self._run_id, self._seq, event)
        self._publish(event)

    def close(self, ended: RunEnded, result: dict[str, Any] | None) -> str | None:
        """Store how the run ended together with its result, then publish the end.

        Returns:
            The sentence for the person where the record could not be written; the end is published even so, because
            a page must not wait for it for ever.
        """
        trouble = None
        try:
            self._store.end_run(self._run_id, ended, result)
        except StoreError as error:
            logging.getLogger(__name__).exception("the end of run %d is not on disk", self._run_id)
            trouble = str(error)
        self._publish(ended)
        return trouble

    def _publish(self, event: Event) -> None:
        self._feed.publish({"run": self._run_id, "seq": self._seq, "event": event_to_plain(event)})
        self._seq += 1
