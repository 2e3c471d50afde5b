"""A bench whose source never goes on unmarked, and is never taken to be off before it has said so itself."""

from collections.abc import Generator, Sequence
from contextlib import contextmanager
from dataclasses import replace

from sequences.engine.instruments import Bench, Source
from sequences.engine.run import UNCONFIRMED
from sequences.errors import SequenceError
from server.bench.output_ledger import OutputLedger
from server.bench.port import InstrumentView, OpenBench
from server.errors import OutputUnconfirmed, ServerError


class GuardedBench:
    """An open bench, with a ledger of its source's output."""

    def __init__(self, bench: OpenBench, ledger: OutputLedger) -> None:
        self._bench = bench
        self._ledger = ledger
        self._source_address = next((card.address for card in bench.instruments if card.role == "source"), None)

    @property
    def bench(self) -> Bench:
        """The instruments by role; the source enters in the ledger that its output goes on."""
        bench, address = self._bench.bench, self._source_address
        if bench.source is None or address is None:
            return bench
        return replace(bench, source=_MarkedSource(bench.source, address, self))

    @property
    def instruments(self) -> Sequence[InstrumentView]:
        """Every role that the bench file names."""
        return self._bench.instruments

    def reopen_missing(self) -> None:
        """Look again for what is missing or lost."""
        self._bench.reopen_missing()

    def going_on(self, address: str) -> None:
        """Enter that the output is about to go on."""
        self._ledger.going_on(address)

    def output_is_on(self) -> bool | None:
        """Ask the source whether its output is on; None where it does not say."""
        return self._bench.output_is_on()

    def make_safe(self) -> bool:
        """Switch the output off. False where the source did not confirm, or may be on and is out of reach."""
        missing = self._bench.bench.source is None
        return self.noted(self._bench.make_safe(), missing=missing)

    def close(self) -> bool:
        """Make safe and let go of every link; say whether the output is confirmed off."""
        missing = self._bench.bench.source is None
        return self.noted(self._bench.close(), missing=missing)

    def noted(self, confirmed: bool, *, missing: bool = False) -> bool:
        """Enter what came of switching off, and say whether the output can be taken to be off."""
        address = self._source_address
        if address is None:
            return confirmed
        if missing:  # nobody was there to confirm anything
            confirmed = not self._ledger.may_be_on(address)
            if confirmed:
                return True
        (self._ledger.is_off if confirmed else self._ledger.is_in_doubt)(address)
        return confirmed


class _MarkedSource:
    """A source that is in the ledger before its output goes on."""

    def __init__(self, source: Source, address: str, guard: GuardedBench) -> None:
        self._source = source
        self._address = address
        self._guard = guard
        self.set_frequency = source.set_frequency  # as they are: a sweep is made of these
        self.set_power = source.set_power
        self.check_standing = source.check_standing

    def set_output(self, on: bool) -> None:
        """Switch, and first enter what is about to go on."""
        if on:
            self._guard.going_on(self._address)
        self._source.set_output(on)

    def make_safe(self) -> bool:
        """Switch off by every means there is, and enter what came of it."""
        return self._guard.noted(self._source.make_safe())


@contextmanager
def closing_off(bench: GuardedBench) -> Generator[GuardedBench]:
    """Close a bench at the end of the block, and never end as if all were well where its source may be on.

    Raises:
        OutputUnconfirmed: the source did not confirm that its output is off.
    """
    told = ""
    try:
        yield bench
    except (ServerError, SequenceError) as error:
        told = f"{error} "
        raise
    finally:
        if not bench.close():
            raise OutputUnconfirmed(told if UNCONFIRMED in told else f"{told}{UNCONFIRMED}")
