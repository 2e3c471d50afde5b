"""The errors of this package, and the one JSON shape in which every route reports them.

ServerError                 its text is one sentence for a person; `status` is the HTTP status it travels with
    BenchFileError          the bench file cannot be used
    ReceiverListError       a receiver file cannot be used
    ListenError             the service cannot listen where it was asked to
    StoreError              the record cannot be read or written
    PracticeError           the practice bench did not start or did not do what it was told
    BenchError              the instruments cannot be reached
    SoundInputError         a sound input cannot be listened to, or there is no tone
    ScanError               a scan without the page has no result
    ReportError             a report cannot be made
    OutputUnconfirmed       the program ends and the source has not confirmed that its output is off
    AlignmentStopped        an alignment was broken off by a signal
    RequestRefused          a request cannot be granted
        OrderRefused        a value in it is wrong
        ArchiveRefused      a file is no job that can be taken in
        UnknownThing        it names something that is not there
        BenchBusy           another run is on
        TooLarge            what it brings is too large
        HandsRefused        the practice bench cannot do what is asked
        StaleRequest        it comes too late: what it answers no longer stands
        OutOfOrder          it is not its turn
        JobInUse            another program has the job in hand
        OutputInDoubt       the source has not confirmed that its output is off
        InstrumentMissing   a role that it needs is empty
        NotOperator         somebody else operates the bench
        NamelessClient      it does not say which page or program it comes from
        TokenRefused        it lacks the token
        ForeignOrigin       a page of another site sent it
        TooMany             there are more of its kind than the service can serve
        StrangeHost         it was addressed to a name that is not ours
"""

from typing import ClassVar


class ServerError(Exception):
    """The root: one sentence that says what is wrong, where, and what to do."""

    status: ClassVar[int] = 500


class BenchFileError(ServerError):
    """The bench file cannot be used."""


class ReceiverListError(ServerError):
    """A receiver file cannot be used."""


class ListenError(ServerError):
    """The service cannot listen where it was asked to."""


class StoreError(ServerError):
    """The record cannot be read or written."""


class PracticeError(ServerError):
    """The practice bench did not start, is gone, or did not do what it was told."""

    status = 502


class BenchError(ServerError):
    """The instruments cannot be reached, or did not confirm."""

    status = 502


class SoundInputError(ServerError):
    """A sound input cannot be listened to, or nothing is heard in it."""


class ScanError(ServerError):
    """A scan without the page has no result."""


class ReportError(ServerError):
    """A report cannot be written where it was asked for."""


class AlignmentStopped(ServerError):  # noqa: N818 - an ending, not a fault
    """An alignment was broken off by a signal; it can be gone on with."""


class OutputUnconfirmed(ServerError):  # noqa: N818 - an ending, not a fault
    """The program ends, and the source has not confirmed that its output is off."""


class RequestRefused(ServerError):  # noqa: N818 - a refusal, not a fault
    """A request cannot be granted."""

    status = 400


class OrderRefused(RequestRefused):
    """A value in the request is wrong."""

    status = 422


class ArchiveRefused(RequestRefused):
    """A file is no job that can be taken into the record."""

    status = 422


class UnknownThing(RequestRefused):
    """The request names something that is not there."""

    status = 404


class BenchBusy(RequestRefused):
    """Another run is on."""

    status = 409


class TooLarge(RequestRefused):
    """What the request brings is too large."""

    status = 413


class HandsRefused(RequestRefused):
    """The practice bench cannot do what is asked: there is no such part, or no such place on it."""

    status = 422


class StaleRequest(RequestRefused):
    """The request comes too late: what it answers no longer stands."""

    status = 409


class OutOfOrder(RequestRefused):
    """It is not the turn of what the request asks for."""

    status = 409


class JobInUse(RequestRefused):
    """Another program has the job in hand."""

    status = 409


class OutputInDoubt(RequestRefused):
    """The source has not confirmed that its output is off; nothing is started before it has."""

    status = 409


class InstrumentMissing(RequestRefused):
    """A role that the request needs is empty."""

    status = 409


class NotOperator(RequestRefused):
    """Somebody else operates the bench."""

    status = 409


class NamelessClient(RequestRefused):
    """The request does not say which page or program it comes from."""


class TokenRefused(RequestRefused):
    """The request lacks the token, or has a wrong one."""

    status = 401


class StrangeHost(RequestRefused):
    """The request was addressed to a name that is not ours: another site may be steering this browser."""

    status = 421


class ForeignOrigin(RequestRefused):
    """A page of another site sent the request."""

    status = 403


class TooMany(RequestRefused):
    """More of its kind are open than the service can serve beside its bench."""

    status = 429
