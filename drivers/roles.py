"""What source, meter and counter share: finding the dialect, refusing the wrong role, and their common face."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, ClassVar, Literal, TypeVar

from drivers.catalog import PLAIN_SCPI, Model, Way, find_model
from drivers.errors import DriverError, InstrumentError, MarkError, ReplyError, ReplyTimeoutError, WrongRoleError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from drivers.instrument import Instrument
    from drivers.link import Identity

Dialect = TypeVar("Dialect")
# What an instrument does with words that are not its own: it queues an error, is silent, or answers something else.
_REFUSALS = (InstrumentError, ReplyTimeoutError, ReplyError)


class RoleDriver:
    """One instrument in one role."""

    role: ClassVar[str]

    def __init__(self, instrument: Instrument) -> None:
        self._instrument = instrument

    @property
    def address(self) -> str:
        """The VISA address."""
        return self._instrument.address

    @property
    def identity(self) -> Identity:
        """What the instrument says it is."""
        return self._instrument.identity

    @property
    def state(self) -> Literal["ready", "lost"]:
        """Whether the link stands, told without a message. A lost one reopens with the next message."""
        return "ready" if self._instrument.is_ready else "lost"

    @property
    def last_error(self) -> str | None:
        """The sentence of the latest error, or None."""
        return self._instrument.last_error

    def close(self) -> None:
        """Drop the link. Never raises."""
        self._instrument.close()


@contextmanager
def closing_on_error(instrument: Instrument) -> Iterator[None]:
    """Drop the link if the instrument turns out not to be usable: some serve one client at a time."""
    try:
        yield
    except BaseException:
        instrument.close()
        raise


def choose_model(instrument: Instrument, role: str, models: tuple[Model, ...]) -> tuple[Model, bool]:
    """Give the catalogue row of an open instrument, and whether it is a row of its own.

    Raises:
        WrongRoleError: The row says that the instrument has other roles.
    """
    model = find_model(instrument.identity, models)
    if model is None:
        return PLAIN_SCPI, False
    if role not in model.roles:
        raise wrong_role(instrument, role, f"it is a {' and '.join(model.roles)}")
    return model, True


def choose_way(instrument: Instrument, role: str, ways: tuple[Way, ...]) -> Way:
    """Give the first way of taking a reading that the instrument does not refuse; it is then configured for it.

    Raises:
        WrongRoleError: It refuses them all.
    """
    refusals = []
    for way in ways:
        try:
            if way.configure is not None:
                instrument.command(way.configure)
            else:
                instrument.query_number(way.read)
        except _REFUSALS as refusal:
            refusals.append(_reason(refusal, way.configure or way.read))
        except MarkError:
            return way  # overloaded or without a signal, but it measured
        else:
            return way
    raise wrong_role(instrument, role, "; ".join(refusals))


def require_numbers(instrument: Instrument, role: str, *messages: str) -> None:
    """Let an unknown instrument show that it fits the role by answering its questions with numbers.

    Raises:
        WrongRoleError: It does not.
    """
    try:
        instrument.query_numbers(*messages)
    except (*_REFUSALS, MarkError) as refusal:
        raise wrong_role(instrument, role, _reason(refusal, ";".join(messages))) from refusal


def wrong_role(instrument: Instrument, role: str, reason: str) -> WrongRoleError:
    """Say that what answers cannot take the role."""
    return WrongRoleError(instrument.address, role, str(instrument.identity), reason)


def _reason(refusal: DriverError, message: str) -> str:
    if isinstance(refusal, InstrumentError):
        return f"it refuses {message} with {refusal.entries[0]}"
    if isinstance(refusal, ReplyTimeoutError):
        return f"it does not answer {message}"
    return f"it answers {message} with something else"
