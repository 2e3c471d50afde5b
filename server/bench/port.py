"""What the worker asks of an opened bench. `server.wiring` gives one; tests give their own."""

from collections.abc import Sequence
from typing import Literal, Protocol

from sequences.engine.instruments import Bench

State = Literal["ready", "missing", "lost"]


class InstrumentView(Protocol):
    """One role: where its instrument should be, what it says it is, and how it stands."""

    @property
    def role(self) -> str:
        """Source, meter or counter."""

    @property
    def address(self) -> str:
        """The VISA address from the bench file."""

    @property
    def identity(self) -> str | None:
        """Its reply to *IDN?, or None while it has not answered."""

    @property
    def state(self) -> str:
        """Ready, missing or lost."""

    @property
    def detail(self) -> str | None:
        """Why it is missing or lost, in one sentence."""


class OpenBench(Protocol):
    """The instruments of one bench, opened as far as they answered."""

    @property
    def bench(self) -> Bench:
        """The instruments by role, as a run sees them."""

    @property
    def instruments(self) -> Sequence[InstrumentView]:
        """Every role that the bench file names, whether it answered or not."""

    def reopen_missing(self) -> None:
        """Look again for what is missing or lost."""

    def output_is_on(self) -> bool | None:
        """Ask the source whether its output is on; None where it does not say."""

    def make_safe(self) -> bool:
        """Switch the source's output off, and say whether it confirmed. Safe to call from any thread."""

    def close(self) -> bool:
        """Make safe and let go of every link; say whether the source confirmed. May be called twice."""
