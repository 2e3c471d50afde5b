"""Why a connection could not be opened, as one sentence and with the command that helps where a package is missing."""

from __future__ import annotations

import importlib.util
import re

from drivers.errors import BadAddressError, NotConnectedError

_ERROR_NUMBER = re.compile(r"\[Errno \d+\] ", re.IGNORECASE)
_EXTRAS = {
    "ASRL": ("serial", "serial ports"),
    "PRLGX-ASRL": ("serial", "serial ports"),
    "USB": ("usb", "USB instruments"),
    "GPIB": ("gpib", "GPIB instruments"),
}
_MODULES = {"serial": ("serial",), "usb": ("usb",), "gpib": ("gpib_ctypes", "gpib")}


class VisaMissingError(Exception):
    """The VISA library that was chosen cannot be loaded. The text is a sentence."""

    def __init__(self, name: str) -> None:
        super().__init__(
            f"The VISA library {name.removeprefix('@')!r} cannot be loaded on this computer: install the vendor's "
            "VISA, or leave --visa out to use the one that came with Peakwright."
        )
        self.name = name


def opening_error(address: str, error: Exception) -> BadAddressError | NotConnectedError:
    """Say why an address could not be opened."""
    if type(error).__name__ == "InvalidResourceName":
        example = "TCPIP::192.168.1.20::5025::SOCKET"
        return BadAddressError(address, f"it is not a VISA address; a network instrument is written like {example}")
    if missing := missing_software(address):
        return BadAddressError(address, missing)
    if "filedescriptor out of range" in str(error):  # the backend waits by `select`, which knows only so many
        return NotConnectedError(address, "this program has too many files open")
    if isinstance(error, ValueError):
        unknown = "No class registered" in str(error)
        return BadAddressError(address, "this kind of connection is not supported" if unknown else plain(error))
    return NotConnectedError(address, _why_not(address, error))


def _why_not(address: str, error: Exception) -> str:
    """Say in plain words what the library says in codes."""
    if "hislip" in address.casefold() and "VI_ERROR_RSRC_NFOUND" in str(error):
        return "nothing there takes a HiSLIP connection; try its SOCKET or inst0 address"
    if "error creating link" in str(error):  # followed by a number of VXI-11 table B.2, or of the library's own
        return "it takes the connection but gives no VXI-11 link; another program may be using it"
    return plain(error)


def missing_software(address: str) -> str | None:
    """Say which extra a kind of address lacks and how it is installed; None where nothing is missing."""
    kind = next((kind for kind in _EXTRAS if address.upper().startswith(kind)), None)
    if kind is None:
        return None
    extra, what = _EXTRAS[kind]
    if any(importlib.util.find_spec(module) is not None for module in _MODULES[extra]):
        return None
    return f"{what} need software that is not installed; install it with: pip install 'peakwright[{extra}]'"


def plain(error: Exception) -> str:
    """Give what the system said, without numbers, codes and further lines."""
    if isinstance(error, OSError) and error.strerror:
        said = error.strerror.strip()
        said = said[:1].lower() + said[1:]
    else:
        said = str(getattr(error, "description", error)).strip() or type(error).__name__
    return _ERROR_NUMBER.sub("", said.splitlines()[0]).rstrip(". ")
