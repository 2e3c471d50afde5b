"""Figures in the terminal: the uncertainty to two digits, the value to the place of the second (GUM, 7.2.6)."""

from io import StringIO

import pytest
from rich.console import Console

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.kinds import alignment_plan
from sequences.numerics.figures import Estimate
from sequences.receiver.file import shipped_receivers
from server.terminal.align_screen import AlignScreen
from tests.quantities import called


@pytest.mark.parametrize(
    ("value_hz", "sigma_hz", "shown"),
    [
        (335.2, 4.53, "335.2 ± 8.9 Hz"),
        (12345.6, 123.0, "12.35 ± 0.24 kHz"),
        (455123.0, 1520.0, "455.1 ± 3.0 kHz"),
        (3.14159, 0.0996, "3.14 ± 0.20 Hz"),
    ],
)
def test_no_digit_is_shown_that_is_not_known(value_hz: float, sigma_hz: float, shown: str) -> None:
    plan = alignment_plan(shipped_receivers()[0])
    finding = Finding(called("frequency error", "Hz"), "", Estimate(value_hz, sigma_hz))
    printed = StringIO()

    AlignScreen(Console(file=printed, width=200), plan).outcome(
        StepOutcome(plan.steps[0].id, Phase.AS_FOUND, (finding,), (), (), ())
    )

    assert shown in printed.getvalue().replace("\u00a0", " ")
