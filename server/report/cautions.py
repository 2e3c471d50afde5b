"""The cautions of a report: for who opens the receiver next."""

from sequences.receiver.cautions import general_dangers
from sequences.receiver.model import Receiver
from server.report.content import Paragraph, Section, Warned

WHAT_IT_IS = (
    "This report says what was measured on the day, on the receiver as it stood, with the instruments named. Valves, "
    "capacitors and settings age and drift, and a blow or a repair changes them: it promises nothing for later."
)
WHAT_IT_IS_NOT = (
    "It is no test of electrical safety. Whether a receiver may be connected to the mains, and who may work on it, is "
    "for local codes to say; leave such work to those who are licensed for it."
)


def cautions_section(receiver: Receiver) -> Section:
    """Say what to beware of."""
    warned = Warned("Before the case is opened", general_dangers(receiver))
    return Section("Cautions", 1, (warned, Paragraph(WHAT_IT_IS), Paragraph(WHAT_IT_IS_NOT)))
