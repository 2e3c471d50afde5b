"""What a step has come to so far: the one mutable thing of its procedure, made into the outcome at its end."""

from dataclasses import dataclass, field

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.procedures.adjusting.turning import Hand
from sequences.quantities import Quantity


@dataclass(slots=True)
class StepNotes:
    """Findings, turns, advice and doubts of one run of one step."""

    task: Task
    hand: Hand = field(default_factory=Hand)
    findings: list[Finding] = field(default_factory=list)
    advice: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)

    def not_measured(self, quantity: Quantity, reason: str, where: str = "", when: Phase | None = None) -> None:
        """Note a figure that could not be had, and why."""
        self.findings.append(Finding(quantity, where, None, reason=reason, when=when))

    def outcome(self) -> StepOutcome:
        """Give the outcome; the same sentence stands there once."""
        return StepOutcome(
            self.task.step.id,
            self.task.phase,
            tuple(self.findings),
            self.hand.turned(),
            tuple(dict.fromkeys(self.advice)),
            tuple(dict.fromkeys(self.doubts)),
            self.hand.stuck(),
        )
