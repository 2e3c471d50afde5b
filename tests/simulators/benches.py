"""Benches on real loopback sockets, spoken to over plain sockets."""

import json
import socket
from typing import Any

_DEADLINE_S = 60.0


class Line:
    """A plain socket that speaks in lines."""

    def __init__(self, port: int, deadline_s: float = _DEADLINE_S) -> None:
        self.socket = socket.create_connection(("127.0.0.1", port), timeout=deadline_s)
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._kept = b""

    def send(self, text: str) -> None:
        """Send one line."""
        self.socket.sendall(text.encode() + b"\n")

    def receive(self) -> str:
        """Receive one line; what comes without its terminator, or nothing at all, means the other end hung up."""
        while b"\n" not in self._kept:
            try:
                chunk = self.socket.recv(65536)
            except ConnectionResetError:
                chunk = b""
            if not chunk:
                line, self._kept = self._kept, b""
                return line.decode("latin-1")
            self._kept += chunk
        line, _, self._kept = self._kept.partition(b"\n")
        return line.decode("latin-1")

    def ask(self, text: str) -> str:
        """Send a line and receive one."""
        self.send(text)
        return self.receive()

    def number(self, text: str) -> float:
        """Ask for a number."""
        return float(self.ask(text))

    def close(self) -> None:
        """Hang up."""
        self.socket.close()


class Bench:
    """A running bench and a line to each of its ports."""

    def __init__(self, addresses: dict[str, str]) -> None:
        self.addresses = addresses
        self.source = Line(self.port("source"))
        self.meter = Line(self.port("meter"))
        self.counter = Line(self.port("counter"))
        self._hands = Line(self.port("hands"))

    def port(self, role: str) -> int:
        """The port of an instrument or of the hands."""
        return int(self.addresses[role].removesuffix("::SOCKET").rpartition(":")[2])

    def hands(self, **request: object) -> dict[str, Any]:
        """Send the hands a request; give their reply."""
        reply: dict[str, Any] = json.loads(self._hands.ask(json.dumps(request)))
        return reply

    def do(self, **request: object) -> dict[str, Any]:
        """Send the hands a request that must succeed."""
        reply = self.hands(**request)
        assert reply["ok"], reply
        return reply

    def truth(self) -> dict[str, Any]:
        """Ask for the truth."""
        truth: dict[str, Any] = self.do(do="truth")["truth"]
        return truth

    def send_signal(self, frequency_hz: float, power_dbm: float) -> None:
        """Set the source and switch it on."""
        assert self.source.ask(f"FREQ {frequency_hz!r};:POW {power_dbm!r};:OUTP ON;*OPC?") == "1"

    def close(self) -> None:
        """Hang up every line."""
        for line in (self.source, self.meter, self.counter, self._hands):
            line.close()
