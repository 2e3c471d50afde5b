"""One running service: the bench's worker, the record, the live feed and the operator's seat, put together."""

import asyncio
import itertools
import logging
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from server.alignment.session import SessionTools
from server.api.job_desk import JobDesk
from server.api.scan_orders import ScanJob, ScanOrder, check_level, limits_for, settle_order
from server.api.seat import OperatorSeat
from server.bench.file import BenchFile
from server.bench.live_feed import LiveFeed
from server.bench.output_ledger import OutputGuardian
from server.bench.port import OpenBench
from server.bench.pulse import Pulse
from server.bench.readying import BenchReadying
from server.bench.worker import BenchWorker
from server.errors import BenchError, ServerError, StoreError, UnknownThing
from server.plain import to_plain
from server.practice.floor import PracticeFloor
from server.practice.hands import Hands
from server.receiver_list import ReceiverList
from server.records.database import utc_now
from server.records.store import Store
from server.settings import Settings
from server.target_list import TargetList

NUMBERS_PER_SECOND = 1_000_000
"""Live numbers begin at the time of day times this: above any number that an earlier start gave out."""

WATCH_EVERY_S = 0.25
OPERATOR_GONE = (
    "The page that operated this bench was gone, so the step was stopped and the source's output switched off; "
    "begin the step again to go on where it was."
)

END_OF_RUN_S = 2.0
"""How long a shutdown waits for a run to end before it ends the streams that would tell of it."""


@dataclass(frozen=True, slots=True)
class Service:
    """What every route is served from."""

    settings: Settings
    store: Store
    feed: LiveFeed
    seat: OperatorSeat
    worker: BenchWorker
    receivers: ReceiverList
    targets: TargetList
    jobs: JobDesk
    readying: BenchReadying | PracticeFloor

    @property
    def practice(self) -> PracticeFloor:
        """The practice bench.

        Raises:
            UnknownThing: this is a bench of instruments.
        """
        if not isinstance(self.readying, PracticeFloor):
            raise UnknownThing("This is a bench of instruments; only the practice bench has a receiver to turn here.")
        return self.readying

    def bench_for(self, client: str | None) -> dict[str, Any]:
        """Tell a client how the bench stands."""
        operator = self.seat.state_for(client)
        return {"mode": self.settings.mode, **to_plain(self.worker.view()), "operator": operator}

    def start_scan(self, order: ScanOrder) -> int:
        """Check an order, enter it in the record and begin.

        Raises:
            RequestRefused: the order, or the bench as it stands, does not allow it.
        """
        target = self.targets[order.target]
        scan_settings = settle_order(order, target)
        limits = limits_for(target, self.settings.bench_file.source)
        check_level(scan_settings, limits)
        floor = self.readying if isinstance(self.readying, PracticeFloor) else None
        run_id = self.worker.begin(ScanJob(target, scan_settings, limits, self.settings.mode, floor))
        if isinstance(self.readying, BenchReadying):
            self.readying.forget()
        return run_id

    def act_as(self, client: str | None) -> None:
        """Let a client act on the bench, as its operator.

        Raises:
            RequestRefused: it has no name, or another operates.
        """
        if self.seat.act(client):
            self.feed.publish_bench_change()

    def take_over(self, client: str | None) -> None:
        """Make a client the operator.

        Raises:
            RequestRefused: it has no name.
        """
        if self.seat.take(client):
            self.feed.publish_bench_change()

    async def watch_operator(self) -> None:
        """Stop the bench when its operator has gone, for as long as the service runs."""
        await asyncio.to_thread(self._resume)
        while True:
            await asyncio.sleep(WATCH_EVERY_S)
            await asyncio.to_thread(self._keep_what_hands_did)
            await asyncio.to_thread(self._look_for_record)
            if self.seat.leave_if_gone():
                self.feed.publish_bench_change()
                await asyncio.to_thread(self._stop, OPERATOR_GONE)

    def _resume(self) -> None:
        try:
            self.readying.resume()
        except ServerError:
            logging.getLogger(__name__).exception("the practice receiver could not be put back to where it was left")

    def _keep_what_hands_did(self) -> None:
        try:
            self.readying.flush()
        except StoreError:
            logging.getLogger(__name__).exception("what hands did on the practice bench could not be kept")

    def _look_for_record(self) -> None:
        """Stop what is on once the record's file is no longer there: what it read from here on would be lost."""
        try:
            self.store.require_place()
        except StoreError as error:
            if not self.worker.wait_until_idle(0):
                self._stop(str(error))
            self.worker.show_trouble(str(error))

    def _stop(self, because: str) -> None:
        try:
            self.worker.output_off(because)
        except BenchError:
            return  # the worker shows it to everyone as the bench's last error
        except Exception:
            logging.getLogger(__name__).exception("the bench could not be stopped; the watch goes on")

    async def wind_down(self) -> None:
        """Stop the run, let every page hear of its end, and end the streams."""
        self.worker.stop()
        await asyncio.to_thread(self.worker.wait_until_idle, END_OF_RUN_S)
        self.feed.close()

    def close(self) -> bool:
        """Leave the source off and let go of instruments and record. May be called again.

        Returns:
            Whether the source's output is confirmed off.
        """
        self.feed.close()
        off = self.worker.close()
        self._keep_what_hands_did()
        self.store.close()
        return off


def assemble(
    settings: Settings,
    *,
    open_bench: Callable[[BenchFile], OpenBench],
    hands: Hands | None = None,
    clock: Callable[[], float] = time.monotonic,
    now: Callable[[], datetime] = utc_now,
    guardian: OutputGuardian | None = None,
) -> Service:
    """Put a service together; nothing runs and no instrument is opened yet.

    Args:
        settings: what it was started with.
        open_bench: gives the instruments of a bench file; called by the worker's own thread.
        hands: who moves the leads of a practice bench.
        clock: seconds that never jump, for the operator's heartbeat.
        now: the time of day, for the record.
        guardian: who switches the source off where this program no longer can.

    Raises:
        StoreError: the record cannot be opened.
        ReceiverListError: a receiver file cannot be used.
    """
    receivers = ReceiverList.read(settings.receiver_files)
    feed = LiveFeed(first_number=int(now().timestamp()) * NUMBERS_PER_SECOND)
    store = Store(settings.store_path, now=now)
    pulse = partial(Pulse, longest_gap_s=settings.longest_gap_s)
    worker = BenchWorker(lambda: open_bench(settings.bench_file), store, feed, settings.speed, pulse, guardian=guardian)
    readying = BenchReadying(store) if hands is None else PracticeFloor(hands, store)
    numbers = itertools.count(int(now().timestamp()))
    tools = SessionTools(store, feed, readying, numbers, clock, lambda: now().timestamp())
    return Service(
        settings=settings,
        store=store,
        feed=feed,
        seat=OperatorSeat(clock=clock, patience_s=settings.operator_patience_s),
        worker=worker,
        receivers=receivers,
        targets=TargetList.of(receivers),
        jobs=JobDesk(settings, tools, worker, receivers),
        readying=readying,
    )
