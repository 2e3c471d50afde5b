"""A client that does at the page what a technician does: begins steps, answers, turns what is to be turned."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Protocol

from server.api.seat import CLIENT_HEADER
from tests.server.benches import PATIENCE_S, eventually

Json = Any
Asked = dict[str, Any]
Answer = Callable[[Asked], str | None]
"""Does what is asked and gives the answer; None ends the work with the question unanswered."""


class Http(Protocol):
    """A client of a service, in this process or over a socket."""

    def request(self, method: str, url: str, *, json: Json = None, headers: dict[str, str] | None = None) -> Any:  # noqa: ANN401 - a response
        """Send a request."""


@dataclass
class Technician:
    """One person at one page."""

    http: Http
    name: str = "one"
    questions: list[Asked] = field(default_factory=list)

    def send(self, method: str, path: str, body: Json = None) -> tuple[int, Json]:
        """Send a request; give status and JSON."""
        answer = self.http.request(method, path, json=body, headers={CLIENT_HEADER: self.name})
        return answer.status_code, answer.json() if answer.content else None

    def get(self, path: str) -> Json:
        """Read what must be there."""
        status, body = self.send("GET", path)
        assert status == 200, body
        return body

    def post(self, path: str, body: Json = None) -> Json:
        """Do what must be possible."""
        status, answer = self.send("POST", path, body if body is not None else {})
        assert status < 300, answer
        return answer

    def refused(self, path: str, body: Json = None, *, status: int, method: str = "POST") -> str:
        """Do what must be refused; give the sentence, which must be one."""
        came, answer = self.send(method, path, body if body is not None else {})
        assert came == status, answer
        assert list(answer) == ["error"]
        sentence = str(answer["error"])
        assert sentence.strip() == sentence
        assert sentence.endswith(".")
        assert "\n" not in sentence
        return sentence

    def bench(self) -> Json:
        """Ask how the bench stands."""
        return self.get("/api/bench")

    def new_job(self, receiver_id: str = "skerry-7", **said: object) -> int:
        """Begin a job."""
        return int(self.post("/api/jobs", {"receiver_id": receiver_id, **said})["id"])

    def state(self, job: int, step: str) -> Json:
        """Ask how a step stands."""
        steps = {one["id"]: one for one in self.get(f"/api/jobs/{job}")["steps"]}
        return steps[step]["state"]

    def leave_before(self, job: int, step: str) -> None:
        """Leave every step that comes before this one in the plan."""
        for one in self.get(f"/api/jobs/{job}")["steps"]:
            if one["id"] == step:
                return
            self.post(f"/api/jobs/{job}/steps/{one['id']}/leave", {"reason": "Not today."})

    def begin(self, job: int, step: str, **order: object) -> None:
        """Begin a step, by counted turns where nothing else is said."""
        status, answer = self.send("POST", f"/api/jobs/{job}/steps/{step}/begin", {"turning": "counted", **order})
        assert (status, answer) == (202, {"job": job, "step": step, "told": None})

    def wait_for_question(self) -> Asked | None:
        """Wait for a question that was not seen yet; None where the session has ended."""
        seen = self.questions[-1]["number"] if self.questions else -1
        until_s = time.monotonic() + PATIENCE_S
        while (session := self.bench()["session"]) is not None:
            asked: Asked | None = session["asked"]
            if asked is not None and asked["number"] > seen:
                self.questions.append(asked)
                return asked
            assert time.monotonic() < until_s, f"no question came; the last was {self.questions[-1:]}"
            time.sleep(0.005)
        return None

    def work(self, answer: Answer) -> Asked | None:
        """Answer every question until the session has ended; give the one that was left unanswered."""
        while (asked := self.wait_for_question()) is not None:
            given = answer(asked)
            if given is None:
                return asked
            self.answer(asked["number"], given)
        return None

    def answer(self, number: int, answer: str) -> None:
        """Answer a question."""
        self.post("/api/answer", {"number": number, "answer": answer})

    def wait_for_end(self) -> None:
        """Wait until nothing is on."""
        eventually(lambda: self.bench()["session"] is None)


def up_to(answer: Answer, action: str, subject: str = "") -> Answer:
    """Answer until a question of this kind comes."""

    def limited(asked: Asked) -> str | None:
        return None if asked["action"] == action and subject in asked["subject"] else answer(asked)

    return limited


@dataclass
class PracticeHands:
    """Does what is asked to the practice receiver through the page's own requests, and takes what is proposed."""

    technician: Technician
    coarse_turns: float = 0.0

    def __call__(self, asked: Asked) -> str:
        """Do one thing."""
        deed = {"connect": self._connect, "set": self._set, "turn": self._turn}.get(asked["action"])
        return str(asked["answers"][0]) if deed is None else deed(asked)

    def _connect(self, asked: Asked) -> str:
        for role in ("source", "meter", "counter"):
            self.technician.post("/api/practice/connect", {"role": role, **asked["detail"][role]})
        for control, to in asked["detail"].get("controls", {}).items():
            self.technician.post("/api/practice/set", {"control": control, "to": to})
        return "done"

    def _set(self, asked: Asked) -> str:
        self.technician.post("/api/practice/set", {"control": asked["subject"], "to": asked["detail"]["to"]})
        return "done"

    def _turn(self, asked: Asked) -> str:
        turns = float(asked["detail"]["turns"])
        if self.coarse_turns:
            turns = self.coarse_turns * round(turns / self.coarse_turns)
        moved = self.technician.post("/api/practice/turn", {"adjuster": asked["subject"], "turns": turns})[
            "moved_turns"
        ]
        return "done" if abs(moved - turns) <= 0.25 * abs(turns) else "cannot"
