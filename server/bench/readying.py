"""What stands on a bench of real instruments when a job goes on: only the person can know, and is asked."""

from collections.abc import Callable

from sequences.alignment.standing import Standing, nothing_stands
from sequences.engine.events import Asked, in_words
from sequences.engine.questions import Choose
from sequences.receiver.model import Receiver
from server.alignment.remembering_person import standing_after
from server.records.store import Store

YES, NO = "yes", "no"
STILL_STANDS = in_words(
    Choose("standing"), "Do all leads and controls still stand as they did when it stopped?", (NO, YES)
)


class BenchReadying:
    """Remembers for which job the leads stand, for as long as the service runs."""

    def __init__(self, store: Store) -> None:
        """Begin knowing nothing."""
        self._store = store
        self._hooked_up_for: int | None = None

    def forget(self) -> None:
        """Something else was done on the bench: what stands there is no longer known."""
        self._hooked_up_for = None

    def seed_for(self, receiver_id: str) -> None:
        """Know of no seed: receivers are real here."""

    def resume(self) -> None:
        """Do nothing: what stands on the bench stands there."""

    def show(self, job_id: int, receiver: Receiver) -> None:
        """Do nothing: the person puts a receiver on the bench."""

    def ready(self, job_id: int, receiver: Receiver, ask: Callable[[Asked], str]) -> Standing:
        """Say which leads and controls stand. After a break, or another job, the person is asked."""
        nothing = nothing_stands(receiver)
        standing = standing_after(nothing, self._store.answers(job_id))
        if standing == nothing or self._hooked_up_for == job_id:
            return standing
        self._hooked_up_for = None
        return standing if ask(STILL_STANDS) == YES else nothing

    def follow(self, job_id: int, took: Callable[[Asked], None], heard: Callable[[], None]) -> None:  # noqa: ARG002 - nobody's hands are seen here
        """Take it that leads and controls stand as they are asked for from here on."""
        self._hooked_up_for = job_id

    def mark(self, asked: Asked) -> Asked:
        """Keep the question as it is."""
        return asked

    def flush(self) -> None:
        """Keep nothing: nobody's hands are seen here."""

    def end(self) -> None:
        """Leave all as it stands."""
