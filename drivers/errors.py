"""The errors of this package: what went wrong on the wire, as data and as one sentence for the person at the bench.

DriverError
    TransportError              the way to the instrument
        BadAddressError         not an address that can be opened here
        NotConnectedError       refused, unreachable, or connected to something that does not answer *IDN?
        LinkLostError           the link broke in the middle
        ReplyTimeoutError       no reply before the deadline
    ReplyError                  a reply came and cannot be used; the link was dropped and opens afresh
        ReplyTooLongError       longer than any reply that was asked for
        GarbledReplyError       not what the command answers
        UnpairedReplyError      the answer to another question: doubled, late, merged or reordered on its way
    InstrumentError             the instrument's own error queue speaks
    MarkError                   the reply is a mark, not a reading
        OverloadError           9.9E37 or -9.9E37
        NotANumberError         9.91E37
    WrongRoleError              the instrument cannot serve as what it was asked to be
    InstrumentInUseError        another program has it
    InstrumentChangedError      another instrument, or the same one switched off and on, answers now
    OutputStillOnError          a source that does not switch off
    SettingNotTakenError        the instrument takes a setting without complaint and then says another
    SettingError                refused here; nothing was sent
        CeilingError            more power than the ceiling allows
        PowerNotSetError        output asked for before a power was set

TransportError (but for BadAddressError) and ReplyError leave a clean link or none: the same request may be repeated.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drivers.scpi import ErrorEntry

_SHOWN_CHARACTERS = 60


def shorten(text: str) -> str:
    """Quote a message or reply for a sentence, cut to a length that can be read."""
    cut = text if len(text) <= _SHOWN_CHARACTERS else text[:_SHOWN_CHARACTERS] + "..."
    return f"{cut!r}"


class DriverError(Exception):
    """The root. `address` says which instrument; the text is a sentence for the person at the bench."""

    def __init__(self, address: str, sentence: str) -> None:
        super().__init__(sentence)
        self.address = address


class TransportError(DriverError):
    """The way to the instrument failed."""


class BadAddressError(TransportError):
    """The address is not VISA, or its kind of connection is not available on this computer."""

    def __init__(self, address: str, reason: str) -> None:
        super().__init__(address, f"{address!r} cannot be opened: {reason}.")
        self.reason = reason


class NotConnectedError(TransportError):
    """Nobody useful answers at the address. `retry_s` is how long further attempts are held back."""

    def __init__(self, address: str, reason: str, retry_s: float = 0.0) -> None:
        super().__init__(address, f"No instrument answers at {address}: {reason}. Is it switched on and plugged in?")
        self.reason = reason
        self.retry_s = retry_s


class LinkLostError(TransportError):
    """The link broke between a message and its reply."""

    def __init__(self, address: str, message: str, reason: str) -> None:
        super().__init__(address, f"The link to {address} broke during {shorten(message)}: {reason}.")
        self.message = message
        self.reason = reason


class ReplyTimeoutError(TransportError):
    """The reply did not come in time. A later one is never handed on."""

    def __init__(self, address: str, message: str, timeout_s: float) -> None:
        super().__init__(
            address, f"The instrument at {address} did not answer {shorten(message)} within {timeout_s:g} s."
        )
        self.message = message
        self.timeout_s = timeout_s


class ReplyError(DriverError):
    """A reply came that cannot be used."""

    def __init__(self, address: str, message: str, reply: str, fault: str) -> None:
        super().__init__(
            address, f"The instrument at {address} answered {shorten(message)} with {shorten(reply)}: {fault}."
        )
        self.message = message
        self.reply = reply


class ReplyTooLongError(ReplyError):
    """The reply passed `limit_bytes` without an end."""

    def __init__(self, address: str, message: str, reply: str, limit_bytes: int) -> None:
        super().__init__(address, message, reply, f"more than {limit_bytes} bytes without an end")
        self.limit_bytes = limit_bytes


class GarbledReplyError(ReplyError):
    """The reply is not of the kind the command answers."""


class UnpairedReplyError(ReplyError):
    """The reply is not the one to this message. It is thrown away, and the link is proven anew before it is used."""


class InstrumentError(DriverError):
    """The instrument reports errors. `code` and `text` are the oldest; `entries` holds them all, oldest first."""

    def __init__(self, address: str, command: str, entries: tuple[ErrorEntry, ...]) -> None:
        listed = "; ".join(str(entry) for entry in entries)
        super().__init__(address, f"The instrument at {address} refused {shorten(command)}: {listed}.")
        self.command = command
        self.entries = entries
        self.code = entries[0].code
        self.text = entries[0].text


class MarkError(DriverError):
    """The reply is one of SCPI's marks and must never be taken for a reading."""

    def __init__(self, address: str, value: float, sentence: str) -> None:
        super().__init__(address, sentence)
        self.value = value


class OverloadError(MarkError):
    """The input was beyond the range."""

    def __init__(self, address: str, value: float) -> None:
        super().__init__(
            address, value, f"The instrument at {address} is overloaded: lower the level or choose a higher range."
        )


class NotANumberError(MarkError):
    """The instrument has no result."""

    def __init__(self, address: str, value: float) -> None:
        super().__init__(
            address, value, f"The instrument at {address} has no result to give: is there a signal at its input?"
        )


class WrongRoleError(DriverError):
    """What answers cannot serve as `role`."""

    def __init__(self, address: str, role: str, identity: str, reason: str) -> None:
        super().__init__(
            address,
            f"The instrument at {address} says it is {identity!r} and cannot serve as the {role}: {reason}. "
            f"Give the address of the {role}.",
        )
        self.role = role
        self.identity = identity
        self.reason = reason


class InstrumentInUseError(DriverError):
    """Another program, on this machine or on another, has the instrument for itself."""

    def __init__(self, address: str, owner: str) -> None:
        super().__init__(
            address,
            f"The instrument at {address} is in use by {owner}: two programs would disturb each other's readings. "
            "End the other one first.",
        )
        self.owner = owner


class InstrumentChangedError(DriverError):
    """What answers now is not as it was left."""

    def __init__(self, address: str, change: str) -> None:
        super().__init__(address, f"The instrument at {address} is not as it was left: {change}. Start the run again.")
        self.change = change


class OutputStillOnError(DriverError):
    """The source was told by every means to switch off and says that its output is on."""

    def __init__(self, address: str) -> None:
        super().__init__(address, f"The output of the source at {address} does not switch off: switch it off by hand.")


class SettingNotTakenError(DriverError):
    """A setting was acknowledged, and read back as another."""

    def __init__(self, address: str, told: str, says: str) -> None:
        super().__init__(
            address,
            f"The instrument at {address} was told {told} and says {says}: ask for what it can be set to, or say how "
            "finely it is set in its dialect.",
        )
        self.told = told
        self.says = says


class SettingError(DriverError):
    """The setting was refused here; nothing was sent."""


class CeilingError(SettingError):
    """More power than the ceiling of this source."""

    def __init__(self, address: str, power_dbm: float, ceiling_dbm: float) -> None:
        super().__init__(
            address, f"{power_dbm:g} dBm is above the ceiling of {ceiling_dbm:g} dBm of the source at {address}."
        )
        self.power_dbm = power_dbm
        self.ceiling_dbm = ceiling_dbm


class PowerNotSetError(SettingError):
    """The output stays off until a power was set in this session."""

    def __init__(self, address: str) -> None:
        super().__init__(address, f"The output of the source at {address} stays off until its power has been set.")
