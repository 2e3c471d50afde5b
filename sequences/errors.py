"""The errors of this package.

SequenceError
    Stopped          the person (or a lost page) asked the run to end
    LimitError       a request asks more than the hookup allows; nothing was sent
    InstrumentFault  an instrument did not do its part
        ReplyLost    late, lost, cut or garbled reply; asking again may help
            LinkAway nobody answers at its address for now; waiting a while may help
"""


class SequenceError(Exception):
    """The root: every error whose sentence is written for the person at the bench."""


class Stopped(SequenceError):  # noqa: N818 - an ending, not a fault
    """The run was asked to end."""


class LimitError(SequenceError):
    """A request is beyond what the hookup allows; it was not sent."""


class InstrumentFault(SequenceError):  # noqa: N818 - the trade says fault
    """An instrument refused, failed or is gone."""


class ReplyLost(InstrumentFault):
    """A reply was late, lost, cut or garbled. The link is clean again, so the same request may be repeated."""


class LinkAway(ReplyLost):
    """An instrument that was there cannot be reached for now, for `retry_s` seconds at least."""

    def __init__(self, sentence: str, retry_s: float = 0.0) -> None:
        super().__init__(sentence)
        self.retry_s = retry_s
