"""Image rejection: how much stronger a signal on the image frequency must be to be heard alike.

What lies between is the preselector's doing. Source: Kennedy, Electronic Communication Systems, chapter 6, image
frequency and its rejection; measured by equal output, as IEC 60315-3 has it (from memory).
"""

from sequences.alignment.outcome import StepOutcome, Task
from sequences.engine.run import Procedure
from sequences.plan.content import Culprit, Limit, Step
from sequences.procedures.antenna import antenna_step
from sequences.procedures.kind import Kind
from sequences.procedures.rejection import Unwanted, rejection
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.model import Receiver

NAME = "image rejection"
REJECTION = Quantity(
    "image-rejection",
    "image rejection",
    "dB",
    Sense.AT_LEAST,
    "how much stronger a station on the image frequency must be to be heard like the wanted one",
    Phrase("at {size} against its image"),
)
BOUND = Quantity(
    "image-rejection-bound",
    "image rejection, at least",
    "dB",
    Sense.AT_LEAST,
    "what the image is down by at least, where it was not heard at the source's highest level",
    Phrase("at {size} or more against its image"),
)
WORDS = (
    "the source's level on the signal and on its image, for the same output",
    "at the same output the detector's law and gain control are the same, and only the preselector differs",
)
MEANING = (
    "A receiver of this kind also hears an image, a second frequency for each it is tuned to; what comes from the "
    "antenna is tuned so that the image is too weak to disturb."
)
IMAGE = Unwanted(REJECTION, BOUND, "image", lambda first: first.image_khz)


def image_rejection(task: Task) -> Procedure[StepOutcome]:
    """Measure every band; nothing is turned."""
    return (yield from rejection(task, IMAGE))


def _steps(receiver: Receiver) -> list[Step]:
    least_db = receiver.limits.image_rejection_db
    if least_db is None:
        return []
    return antenna_step(receiver, NAME, Limit(REJECTION, least_db), WORDS, MEANING, points_at=Culprit.INPUT)


KIND = Kind(NAME, _steps, image_rejection, (REJECTION, BOUND))
