"""The status registers and the error queue of one instrument."""

from collections import deque

from simulators.scpi.errors import ScpiError

_ERROR_QUEUE_BIT = 4
_QUESTIONABLE_BIT = 8
_MESSAGE_AVAILABLE_BIT = 16
_EVENT_SUMMARY_BIT = 32
_MASTER_SUMMARY_BIT = 64
_OPERATION_BIT = 128
_POWER_ON_EVENT = 128
OPERATION_COMPLETE_EVENT = 1
SETTLING_CONDITION = 2
QUEUE_LENGTH = 20


class EventRegister:
    """One SCPI register group: condition, event and enable. Events are set where a condition bit rises."""

    def __init__(self) -> None:
        self.condition = 0
        self.event = 0
        self.enable = 0

    def set_condition(self, bits: int) -> None:
        """Replace the condition bits; each that rises leaves an event."""
        self.event |= bits & ~self.condition
        self.condition = bits

    def take_event(self) -> int:
        """Read the events, which clears them."""
        event, self.event = self.event, 0
        return event

    def summary(self) -> bool:
        """True where an enabled event stands."""
        return bool(self.event & self.enable)


class Status:
    """The standard event register, the status byte, the two SCPI register groups and the error queue."""

    def __init__(self) -> None:
        self.standard = EventRegister()
        self.standard.event = _POWER_ON_EVENT
        self.operation = EventRegister()
        self.questionable = EventRegister()
        self.service_enable = 0
        self._queue: deque[ScpiError] = deque()

    def report(self, error: ScpiError) -> None:
        """Queue an error and set its event bit. A full queue gives up its newest entry for -350."""
        self.standard.event |= error.event_bit
        if len(self._queue) < QUEUE_LENGTH:
            self._queue.append(error)
            return
        overflow = ScpiError(-350)
        self.standard.event |= overflow.event_bit
        self._queue[-1] = overflow

    def next_error(self) -> str:
        """Take the oldest error from the queue."""
        return (self._queue.popleft() if self._queue else ScpiError(0)).entry()

    def error_count(self) -> int:
        """How many errors wait."""
        return len(self._queue)

    def clear(self) -> None:
        """`*CLS`: empty the queue and every event register; enable masks stay."""
        self._queue.clear()
        for register in (self.standard, self.operation, self.questionable):
            register.event = 0

    def byte(self, *, message_available: bool) -> int:
        """`*STB?`: the status byte with its master summary, which reading does not clear."""
        value = _ERROR_QUEUE_BIT if self._queue else 0
        value |= _QUESTIONABLE_BIT if self.questionable.summary() else 0
        value |= _MESSAGE_AVAILABLE_BIT if message_available else 0
        value |= _EVENT_SUMMARY_BIT if self.standard.summary() else 0
        value |= _OPERATION_BIT if self.operation.summary() else 0
        return value | (_MASTER_SUMMARY_BIT if value & self.service_enable else 0)
