"""A robot with hands: it does exactly what the Asks say to the practice receivers, and nothing else."""

from dataclasses import dataclass, field
from typing import Any, Protocol

from sequences.engine.events import Asked


class HandsOnIt(Protocol):
    """A practice bench with hands."""

    @property
    def source(self) -> str:
        """Where the source is asked."""

    def do(self, **task: Any) -> dict[str, Any]:  # noqa: ANN401 - JSON
        """Have the hands do one thing."""

    def ask(self, address: str, question: str) -> str:
        """Put one SCPI question to an instrument."""


@dataclass
class Robot:
    """The person at the practice bench. `coarse_turns` rounds each turn, as fingers do; it never looks at a figure.

    `decide` answers what is to be chosen: subject to answer; otherwise the first answer is taken.
    """

    bench: HandsOnIt
    coarse_turns: float = 0.0
    decide: dict[str, str] = field(default_factory=dict)
    done: list[Asked] = field(default_factory=list)

    def answer(self, asked: Asked) -> str:
        """Do one thing."""
        self.done.append(asked)
        return {"connect": self._connect, "set": self._set, "turn": self._turn, "choose": self._choose}[asked.action](
            asked
        )

    def signal(self) -> str | None:
        """It never taps."""
        return None

    def _connect(self, asked: Asked) -> str:
        for role in ("source", "meter", "counter"):
            lead = asked.detail[role]
            self.bench.do(do="connect", role=role, to=lead["to"], through=lead["through"])
        for control, to in asked.detail.get("controls", {}).items():
            self.bench.do(do="set", control=control, to=to)
        return "done"

    def _set(self, asked: Asked) -> str:
        self.bench.do(do="set", control=asked.subject, to=asked.detail["to"])
        return "done"

    def _turn(self, asked: Asked) -> str:
        turns = float(asked.detail["turns"])
        if self.coarse_turns:
            turns = self.coarse_turns * round(turns / self.coarse_turns)
        moved = self.bench.do(do="turn", adjuster=asked.subject, turns=turns)["moved_turns"]
        return "done" if abs(moved - turns) <= 0.25 * abs(turns) else "cannot"

    def _choose(self, asked: Asked) -> str:
        return self.decide.get(asked.subject, asked.answers[0])
