"""What a person may want instead of answering, at the terminal and at the page alike."""

from sequences.errors import Stopped


class Wish(Stopped):
    """The person wants something else than to answer. Ends the run of the step with the source off."""

    text = "The run was ended."


class LeaveStep(Wish):
    """Leave this step as it is, and go on with the next."""


class StepAgain(Wish):
    """Begin this measurement again."""


class StopHere(Wish):
    """Stop the alignment here, to be gone on with later."""
