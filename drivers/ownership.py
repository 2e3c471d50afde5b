"""One bench, one owner: a lock per instrument address on this machine, held by a file as long as a role is open.

Two roles of one program may share an instrument; a second program is refused. The lock goes with the process that holds
it, however it ends.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
import threading
from pathlib import Path
from typing import IO, TYPE_CHECKING
from weakref import WeakSet

from drivers.errors import InstrumentInUseError

if TYPE_CHECKING:
    from collections.abc import Callable

_FOLDER = "peakwright-instruments"
_EVERYBODY = 0o1777

# Whoever was forgotten without being released no longer counts as a second owner.
_held: dict[str, tuple[IO[str], WeakSet[Ownership]]] = {}
_lock = threading.Lock()


_standing_in = threading.Event()


def stand_in_for_owners() -> None:
    """Let this process, from now on, open what another program owns.

    Only to switch a source off for a program that no longer can: it stands still, and so keeps its lock.
    """
    _standing_in.set()


def stands_in() -> bool:
    """Whether this process may open what another owns."""
    return _standing_in.is_set()


class Ownership:
    """One claim to one address. Claiming twice is claiming once."""

    def __init__(self, address: str, folder: Path | None = None) -> None:
        self._address = address
        self._path = (folder or Path(tempfile.gettempdir()) / _FOLDER) / _name_of(address)
        self._is_claimed = False
        self.when_shared: Callable[[], None] | None = None
        """Called when another role of this program claims the address too."""

    def claim(self) -> None:
        """Take the address for this program.

        Raises:
            InstrumentInUseError: Another program on this machine has it.
        """
        with _lock:
            if self._is_claimed or stands_in():
                return
            key = str(self._path)
            if key not in _held:
                file = self._locked_file()
                if file is None:
                    return
                _held[key] = (file, WeakSet())
            others = [other.when_shared for other in _held[key][1] if other.when_shared is not None]
            _held[key][1].add(self)
            self._is_claimed = True
        for tell in others:
            tell()

    @property
    def is_shared(self) -> bool:
        """Whether another role of this program has the instrument too."""
        with _lock:
            return self._is_claimed and len(_held[str(self._path)][1]) > 1

    def release(self) -> None:
        """Give the address back, once nothing in this program claims it any more."""
        with _lock:
            if not self._is_claimed:
                return
            self._is_claimed = False
            key = str(self._path)
            file, owners = _held[key]
            owners.discard(self)
            if not owners:
                del _held[key]
                file.close()

    def _locked_file(self) -> IO[str] | None:
        """Open and lock the file; None where this system has no place for it, which must not stop the work."""
        try:
            file = _open(self._path)
        except OSError:
            return None
        if _try_lock(file):
            with contextlib.suppress(OSError):
                file.seek(0)
                file.truncate()
                file.write(str(os.getpid()))
                file.flush()
            return file
        with file:
            holder = file.read(20).strip()
        raise InstrumentInUseError(self._address, f"process {holder}" if holder.isdecimal() else "another process")


def _name_of(address: str) -> str:
    return hashlib.sha256(address.strip().casefold().encode()).hexdigest()[:32]


def _open(path: Path) -> IO[str]:
    with contextlib.suppress(FileExistsError):
        path.parent.mkdir(mode=_EVERYBODY)
        path.parent.chmod(_EVERYBODY)  # other users of this machine keep their locks here too
    flags = os.O_RDWR | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)
    try:
        number = os.open(path, flags)
    except FileNotFoundError:
        number = os.open(path, flags | os.O_CREAT, 0o666)
        with contextlib.suppress(OSError):
            path.chmod(0o666)
    try:
        return os.fdopen(number, "r+", encoding="ascii", errors="replace")
    except BaseException:
        with contextlib.suppress(OSError):  # the file object may have closed it already
            os.close(number)
        raise


def _try_lock(file: IO[str]) -> bool:
    try:
        import fcntl  # noqa: PLC0415 - not on every system
    except ImportError:
        return _try_lock_on_windows(file)
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _try_lock_on_windows(file: IO[str]) -> bool:
    import msvcrt  # noqa: PLC0415 - only there

    try:
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined] # only there
    except OSError:
        return False
    return True
