"""Faults of the wire and of the instruments, ordered beforehand: after so many exchanges, so many times."""

import re
import threading
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from simulators.wire import Reply

_OVERLOAD = b"+9.900000000000E+37"
# A reading is written with an exponent (NR3); the other parts of an answer are not.
_READING = re.compile(rb"[-+]?[0-9.]+E[-+][0-9]+")
_NOISE = b"~#@!?$%\x80\xfe\xff"
_STRUCK = 0.4


class FaultKind(StrEnum):
    """What can go wrong with a reply."""

    LATE = "late"
    LOST = "lost"
    CUT = "cut"
    GARBLED = "garbled"
    OVERLOAD = "overload"
    DOUBLED = "doubled"
    MERGED = "merged"
    REORDERED = "reordered"
    SHORTENED = "shortened"


@dataclass(slots=True)
class _Order:
    kind: FaultKind
    after: int
    count: int


class FaultPlan:
    """The faults one instrument is to show. Replies are counted from when the fault was ordered."""

    def __init__(self, seed: int, salt: int, late_s: float) -> None:
        """Begin without faults; `late_s` is how late a late reply is."""
        self._generator = np.random.default_rng([seed, salt])
        self._late_s = late_s
        self._orders: list[_Order] = []
        self._lock = threading.Lock()
        # What goes out with the next answer: before it, joined to it, and behind it.
        self._before = self._joined = self._behind = b""

    def order(self, kind: FaultKind, after: int, count: int) -> None:
        """Let `after` more replies pass, then spoil `count` of them."""
        with self._lock:
            self._orders.append(_Order(kind, after, count))

    def treat(self, text: str) -> Reply | None:
        """Give what becomes of one reply."""
        kind = self._due() if self._orders else None
        data = self._with_what_was_held(text.encode("ascii", "replace") + b"\n")
        if kind is None:
            return Reply(data)
        if kind in {FaultKind.LOST, FaultKind.DOUBLED, FaultKind.MERGED, FaultKind.REORDERED}:
            return self._held(kind, data)
        if kind is FaultKind.LATE:
            return Reply(data, delay_s=self._late_s)
        if kind is FaultKind.CUT:
            return Reply(data[: len(data) // 2], cut=True)
        return Reply(self._altered(kind, data))

    def _altered(self, kind: FaultKind, data: bytes) -> bytes:
        if kind is FaultKind.SHORTENED:
            return data[: (len(data) - 1) // 2] + b"\n"
        if kind is FaultKind.OVERLOAD:
            return _READING.sub(_OVERLOAD, data) if _READING.search(data) else _OVERLOAD + b"\n"
        return self._garbled(data)

    def _with_what_was_held(self, data: bytes) -> bytes:
        whole = self._before + self._joined + data + self._behind
        self._before = self._joined = self._behind = b""
        return whole

    def _held(self, kind: FaultKind, data: bytes) -> Reply | None:
        """Keep an answer, or a copy of it, for when the next one goes out; a lost one is not kept."""
        if kind is FaultKind.DOUBLED:
            self._before = data
            return Reply(data)
        if kind is FaultKind.MERGED:
            self._joined = data.rstrip(b"\n")
        elif kind is FaultKind.REORDERED:
            self._behind = data
        return None

    def _due(self) -> FaultKind | None:
        """Count this reply against every order; the first that is due spoils it."""
        with self._lock:
            due = next((order for order in self._orders if order.after <= 0), None)
            for order in self._orders:
                order.after -= 1
            if due is None:
                return None
            due.count -= 1
            if due.count <= 0:
                self._orders.remove(due)
            return due.kind

    def _garbled(self, data: bytes) -> bytes:
        """Put characters that no reply is made of in place of some bytes, of the first at least; keep the LF."""
        spoiled = bytearray(data)
        hits = np.flatnonzero(self._generator.random(len(data) - 1) < _STRUCK)
        for at in {0, *hits.tolist()}:
            spoiled[at] = _NOISE[int(self._generator.integers(len(_NOISE)))]
        return bytes(spoiled)
