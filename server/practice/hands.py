"""The hands of the practice bench: they move leads and set controls of the simulated receiver."""

import json
import socket
from collections.abc import Mapping
from typing import Any

from sequences.receiver.hookups import Hookup
from server.errors import HandsRefused, PracticeError

DEADLINE_S = 5.0
LONGEST_REPLY = 1_000_000
"""Characters; a longer reply is no reply."""


def lead_to(role: str, to: str | None, through: str | None) -> dict[str, Any]:
    """Give the task of moving one lead."""
    return {"do": "connect", "role": role, "to": to, "through": through}


def controls_to(controls: Mapping[str, str | float]) -> list[dict[str, Any]]:
    """Give the tasks of setting controls."""
    return [{"do": "set", "control": control, "to": to} for control, to in controls.items()]


class Hands:
    """A client of the practice bench's own port: one JSON line a request, one a reply."""

    def __init__(self, address: str) -> None:
        """Remember where the hands listen, as `host:port`; each task is a connection of its own."""
        host, _, port = address.rpartition(":")
        self._where = (host, int(port))

    def do(self, *tasks: dict[str, Any]) -> list[dict[str, Any]]:
        """Have tasks done, in order, and give the replies.

        Raises:
            HandsRefused: the practice bench cannot do a task; the sentence is its own.
            PracticeError: the practice bench is gone.
        """
        try:
            with socket.create_connection(self._where, timeout=DEADLINE_S) as link:
                lines = link.makefile("rwb")
                return [_one(lines, task) for task in tasks]
        except OSError as error:
            raise PracticeError("The practice bench does not answer; stop the service and start it again.") from error

    def hook_up(self, receiver_id: str, hookup: Hookup) -> None:
        """Put a receiver on the bench, connect source and meter, and set its controls."""
        self.do(
            {"do": "receiver", "id": receiver_id},
            lead_to("source", hookup.source_to, hookup.source_through),
            lead_to("meter", hookup.meter_to, hookup.meter_through),
            *controls_to(hookup.controls),
        )


def _one(lines: Any, task: dict[str, Any]) -> dict[str, Any]:  # noqa: ANN401 - a socket's file has no public class
    lines.write(json.dumps(task).encode() + b"\n")
    lines.flush()
    try:
        reply = json.loads(lines.readline(LONGEST_REPLY))
    except ValueError as error:
        raise PracticeError("The practice bench gave an answer that makes no sense; start it again.") from error
    if not isinstance(reply, dict) or reply.get("ok") is not True:
        reason = reply.get("error") if isinstance(reply, dict) else None
        raise HandsRefused(f"The practice bench refused ({task['do']}): {reason or 'no reason given.'}")
    return reply
