"""Whether the source's output may be on: kept in the record from before it goes on until the source says it is off."""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import Protocol

from server.errors import StoreError

_log = logging.getLogger(__name__)


class OutputMarks(Protocol):
    """Where it is kept which outputs may be on; `server.records.outputs` is one."""

    def mark_output(self, address: str) -> str:
        """Enter that an output may be on, and give since when."""

    def clear_output(self, address: str) -> None:
        """Enter that it is off."""

    def output_marked(self, address: str) -> str | None:
        """Give since when an output may be on, None where it is off."""


class OutputGuardian(Protocol):
    """Whoever sees to the output when this program no longer can; `server.bench.guardian` is one."""

    def goes_on(self) -> None:
        """Hear that the output is about to go on."""

    def is_off(self) -> None:
        """Hear that it is confirmed off."""


@dataclass(frozen=True, slots=True)
class OutputAlarm:
    """What a person must know now: the source may be on, and nothing here could switch it off yet."""

    since_utc: str | None
    """Since when, where the record knows."""
    text: str


class OutputLedger:
    """Follows one source. Safe to use from several threads.

    `marks` is None where nothing is kept; `tell` hears of each alarm, and None once it is over.
    """

    def __init__(
        self,
        marks: OutputMarks | None = None,
        tell: Callable[[OutputAlarm | None], None] = lambda _: None,
        guardian: OutputGuardian | None = None,
    ) -> None:
        self._marks = marks
        self._guardian = guardian
        self._tell = tell
        self._lock = Lock()
        self._marked: dict[str, str] = {}
        self._alarm: OutputAlarm | None = None

    @property
    def alarm(self) -> OutputAlarm | None:
        """The alarm that is on."""
        return self._alarm

    def going_on(self, address: str) -> None:
        """Enter that the output is about to go on.

        Raises:
            StoreError: it is not in the record; the output must stay off.
        """
        with self._lock:
            if self._marks is not None and address not in self._marked:
                self._marked[address] = self._marks.mark_output(address)
        if self._guardian is not None:
            self._guardian.goes_on()

    def is_off(self, address: str) -> None:
        """Enter that the source has confirmed that its output is off."""
        with self._lock:
            if self._may_be_on(address):
                self._clear(address)
            if self._guardian is not None:
                self._guardian.is_off()
            over = self._alarm is not None
            self._alarm = None
        if over:
            _log.warning("the source at %s has confirmed that its output is off", address)
            self._tell(None)

    def is_in_doubt(self, address: str) -> None:
        """Raise the alarm: the source did not confirm that its output is off."""
        with self._lock:
            self._mark(address)
            if self._alarm is not None:
                return
            alarm = self._alarm = OutputAlarm(self._marked.get(address), alarm_text(address))
        _log.error("%s", alarm.text)
        self._tell(alarm)

    def may_be_on(self, address: str) -> bool:
        """Say whether the record has it that the output may be on."""
        with self._lock:
            return self._may_be_on(address)

    def _may_be_on(self, address: str) -> bool:
        if address in self._marked:
            return True
        if self._marks is None:
            return False
        try:
            since = self._marks.output_marked(address)
        except StoreError:
            _log.exception("the record does not tell whether the source at %s may be on", address)
            return True
        if since is not None:
            self._marked[address] = since
        return since is not None

    def _mark(self, address: str) -> None:
        if self._marks is None or address in self._marked:
            return
        try:
            self._marked[address] = self._marks.mark_output(address)
        except StoreError:
            _log.exception("the record does not take in that the source at %s may be on", address)

    def _clear(self, address: str) -> None:
        if self._marks is None:
            return
        try:
            self._marks.clear_output(address)
        except StoreError:  # it stays marked, and the next start asks the source once more
            _log.exception("the record does not take in that the source at %s is off", address)
        self._marked.pop(address, None)


def alarm_text(address: str) -> str:
    """Say what a person must do about a source that did not confirm."""
    return (
        f"The source at {address} may still be on. Switch its output off at the instrument. "
        "Peakwright keeps trying until the source confirms it."
    )
