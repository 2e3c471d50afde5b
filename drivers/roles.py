"""What source, meter and counter share: finding the dialect, refusing the wrong role, and their common face."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal

from drivers.dialect import PLAIN_SCPI, Model, Way, find_model
from drivers.dialect_files import pick, shipped_models
from drivers.errors import DriverError, InstrumentError, MarkError, ReplyError, ReplyTimeoutError, WrongRoleError
from drivers.identity import Identity
from drivers.instrument import Instrument

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from drivers.conversation import Conversation
    from drivers.transport import Transport

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


@dataclass(frozen=True, slots=True)
class Known:
    """The dialects to choose from, and the one that was chosen beforehand, by its name."""

    models: tuple[Model, ...] | None = None
    chosen: str | None = None

    def model_of(self, identity: Identity) -> Model | None:
        """Give the dialect of this instrument; None where no dialect names it.

        Raises:
            DialectError: There is none of the chosen name.
        """
        models = shipped_models() if self.models is None else self.models
        return find_model(identity, models) if self.chosen is None else pick(models, self.chosen)

    def conversation_of(self, identity: Identity) -> Conversation:
        """Give how to talk to it."""
        return (self.model_of(identity) or PLAIN_SCPI).conversation

    @property
    def unasked_name(self) -> Identity | None:
        """What to call an instrument that knows no *IDN?, as its chosen dialect says."""
        if self.chosen is None:
            return None
        model = self.model_of(Identity("", ""))
        if model is None or model.conversation.identify:
            return None
        return Identity(model.maker or "an instrument without a name", model.model or model.name)


def open_instrument(transport: Transport, known: Known, *, timeout_s: float, clock: Callable[[], float]) -> Instrument:
    """Open what is at the far end of a transport, in the conversation of its dialect.

    Raises:
        DriverError: Its text says what is wrong.
        DialectError: The chosen dialect is not there.
    """
    instrument = Instrument(
        transport,
        timeout_s=timeout_s,
        clock=clock,
        conversation=known.conversation_of,
        unasked_name=known.unasked_name,
    )
    instrument.open()
    return instrument


@contextmanager
def closing_on_error(instrument: Instrument) -> Iterator[None]:
    """Drop the link if the instrument turns out not to be usable: some serve one client at a time."""
    try:
        yield
    except BaseException:
        instrument.close()
        raise


def choose_model(instrument: Instrument, role: str, known: Known) -> tuple[Model, bool]:
    """Give the dialect of an open instrument, and whether it is one of its own.

    Raises:
        WrongRoleError: The dialect says that the instrument has other roles.
    """
    model = known.model_of(instrument.identity)
    if model is None:
        return PLAIN_SCPI, False
    if role not in model.roles:
        raise wrong_role(instrument, role, f"it is a {' and '.join(model.roles)}")
    return model, True


def choose_way(instrument: Instrument, role: str, ways: tuple[Way, ...], *, by_reading: bool = True) -> Way:
    """Give the first way in which the instrument takes a reading; it is then configured for it.

    Args:
        instrument: Open.
        role: What it is to serve as.
        ways: The best first.
        by_reading: Whether a way is tried with a reading: there are meters that take CONFigure and know no READ?. A
            counter may have to wait for a signal first, so there its configuration must do.

    Raises:
        WrongRoleError: It refuses them all.
    """
    refusals: list[str] = []
    for way in ways:
        refusal = _try_way(instrument, way, by_reading=by_reading)
        if refusal is None:
            return way
        refusals.append(_reason(refusal, way))
    raise wrong_role(instrument, role, "; ".join(refusals))


def _try_way(instrument: Instrument, way: Way, *, by_reading: bool) -> DriverError | None:
    """Take a reading in one way; give what came instead, or None where it measured, beyond its range or not."""
    try:
        if way.configure is not None:
            instrument.command(way.configure)
        if by_reading or way.configure is None:
            instrument.query_number(way.read)
    except MarkError:
        return None
    except _REFUSALS as refusal:
        return refusal
    return None


def require_numbers(instrument: Instrument, role: str, *messages: str) -> None:
    """Let an unknown instrument show that it fits the role by answering its questions with numbers.

    Raises:
        WrongRoleError: It does not.
    """
    try:
        instrument.query_numbers(*(message for message in messages if message))
    except (*_REFUSALS, MarkError) as refusal:
        asked = Way(None, ";".join(message for message in messages if message))
        raise wrong_role(instrument, role, _reason(refusal, asked)) from refusal


def wrong_role(instrument: Instrument, role: str, reason: str) -> WrongRoleError:
    """Say that what answers cannot take the role."""
    return WrongRoleError(instrument.address, role, str(instrument.identity), reason)


def _reason(refusal: DriverError, way: Way) -> str:
    if isinstance(refusal, InstrumentError):
        return f"it refuses {refusal.command} with {refusal.entries[0]}"
    if isinstance(refusal, ReplyTimeoutError):
        is_setting = way.configure is not None and way.read not in refusal.message
        return f"it does not answer {way.configure if is_setting else way.read}"
    return f"it answers {way.read} with something else"
