"""How gain control is laid out: from the antenna in the middle of the first band, at the detector."""

from sequences.plan.content import Culprit, Limit, Step
from sequences.procedures.antenna import antenna_step
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.chain import mid_band
from sequences.receiver.model import Receiver
from sequences.receiver.points import meter_that_reads

NAME = "gain control"
MERIT = Quantity(
    "agc-merit",
    "AGC figure of merit",
    "dB",
    Sense.AT_LEAST,
    "how far a signal of 100 mV may fall before the output falls by 10 dB: the more, the better fading is evened out",
    Phrase("with its output held over {size}"),
)
WORDS = (
    "the detector's voltage for a signal of 100 mV, and the weaker signal for which it is 10 dB less",
    "both levels are the source's, and the detector's law is used over 10 dB only",
)
MEANING = "Gain control makes weak and strong stations about equally loud, and keeps strong ones from overdriving."


def steps(receiver: Receiver) -> list[Step]:
    """Measure it where a limit is set, and antenna and detector can be reached."""
    least_db, detector = receiver.limits.agc_merit_db, meter_that_reads(receiver, "detector")
    if least_db is None or detector is None:
        return []
    middle = mid_band(receiver, next(iter(receiver.bands)))
    limit = Limit(MERIT, least_db)
    return antenna_step(receiver, NAME, limit, WORDS, MEANING, (middle,), points_at=Culprit.CONTROL)
