"""The hands port: one JSON object a line in, one out. Hands turn, set and connect; they may also ask for the truth."""

import json
from typing import TYPE_CHECKING, Any

from simulators.clock import Clock
from simulators.faults import FaultKind, FaultPlan
from simulators.radios.parts import HandError
from simulators.wire import Reply
from simulators.workbench import Workbench

if TYPE_CHECKING:
    from collections.abc import Callable

Request = dict[str, Any]


class Hands:
    """One client of the hands port."""

    def __init__(self, workbench: Workbench, faults: dict[str, FaultPlan], clock: Clock) -> None:
        self._workbench = workbench
        self._faults = faults
        self._clock = clock
        self._deeds: dict[str, Callable[[Request], dict[str, object]]] = {
            "describe": lambda _: self._workbench.describe(),
            "receiver": self._receiver,
            "connect": self._connect,
            "set": self._set,
            "turn": self._turn,
            "truth": lambda _: {"truth": self._workbench.truth()},
            "reseed": self._reseed,
            "cool": self._cool,
            "fault": self._fault,
            "wait": self._wait,
        }

    def answer(self, line: bytes) -> Reply | None:
        """Carry out one request. Whatever is wrong with it comes back as one sentence."""
        if not line.strip():
            return None
        try:
            reply: dict[str, object] = {"ok": True, **self._carry_out(line)}
        except HandError as error:
            reply = {"ok": False, "error": str(error)}
        return Reply(json.dumps(reply).encode() + b"\n")

    def overrun(self) -> None:
        """Too long a line is no request; nothing is answered."""

    def _carry_out(self, line: bytes) -> dict[str, object]:
        try:
            request = json.loads(line)
        except ValueError:
            raise HandError("The hands take one JSON object a line; this line is not JSON.") from None
        if not isinstance(request, dict):
            raise HandError("The hands take one JSON object a line; this line is some other JSON.")
        deed = self._deeds.get(str(request.get("do")))
        if deed is None:
            raise HandError(f"The hands cannot do {request.get('do')!r}; they can do {', '.join(self._deeds)}.")
        return deed(request)

    def _receiver(self, request: Request) -> dict[str, object]:
        self._workbench.choose_receiver(_text(request, "id"))
        return self._workbench.describe()

    def _connect(self, request: Request) -> dict[str, object]:
        to = None if request.get("to") is None else _text(request, "to")
        through = None if request.get("through") is None else _text(request, "through")
        self._workbench.connect(_text(request, "role"), to, through)
        return {}

    def _set(self, request: Request) -> dict[str, object]:
        if "to" not in request:
            raise HandError("This request needs 'to', the place or mark to set the control to.")
        self._workbench.set_control(_text(request, "control"), request["to"])
        return {}

    def _turn(self, request: Request) -> dict[str, object]:
        moved, position = self._workbench.turn(_text(request, "adjuster"), _number(request, "turns"))
        return {"moved_turns": moved, "position_turns": position}

    def _reseed(self, request: Request) -> dict[str, object]:
        self._workbench.reseed(_whole(request, "seed", 0))
        return {}

    def _cool(self, _: Request) -> dict[str, object]:
        self._workbench.cool()
        return {}

    def _fault(self, request: Request) -> dict[str, object]:
        instrument, kind = _text(request, "instrument"), _text(request, "kind")
        if instrument not in self._faults:
            raise HandError(f"There is no instrument {instrument!r}; there are {', '.join(self._faults)}.")
        if kind not in list(FaultKind):
            raise HandError(f"There is no fault {kind!r}; there are {', '.join(FaultKind)}.")
        self._faults[instrument].order(FaultKind(kind), _whole(request, "after", 0), _whole(request, "count", 1))
        return {}

    def _wait(self, request: Request) -> dict[str, object]:
        self._clock.wait(_number(request, "seconds"))
        return {"now_s": self._clock.now_s()}


def _text(request: Request, key: str) -> str:
    value = request.get(key)
    if not isinstance(value, str):
        raise HandError(f"This request needs {key!r}, a text.")
    return value


def _number(request: Request, key: str) -> float:
    value = request.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < float("inf"):
        raise HandError(f"This request needs {key!r}, a number.")
    return float(value)


def _whole(request: Request, key: str, default: int) -> int:
    value = request.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise HandError(f"This request's {key!r} must be a whole number, not below 0.")
    return value
