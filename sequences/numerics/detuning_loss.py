"""What a detuning costs in level: why peaking by meter is blunt, and whether a turn is worth it.

Single tuned circuits near resonance, x half-widths off: 10 log10(1 + x^2) each (Terman, Radio Engineers' Handbook,
1943, sec. 3, the universal resonance curve).
"""

import math

from sequences.numerics.figures import Estimate


def loss_db(detuning_hz: Estimate, width_hz: float) -> Estimate:
    """Give the dB lost by detuning a circuit of 3 dB width `width_hz`; this much there is to gain by tuning it."""
    x = 2.0 * detuning_hz.value / width_hz
    sigma_x = 2.0 * detuning_hz.sigma / width_hz
    slope = 20.0 / math.log(10.0) * abs(x) / (1.0 + x * x)
    # At the peak the slope is zero and the uncertainty comes from the curvature alone.
    bend = 10.0 / math.log(10.0) * math.sqrt(2.0) * sigma_x**2 / (1.0 + x * x)
    return Estimate(10.0 * math.log10(1.0 + x * x), math.hypot(slope * sigma_x, bend))


def detuning_that_loses_hz(lost_db: float, width_hz: float, circuits: int = 1) -> float:
    """Give the detuning at which `circuits` equal circuits, moved together, lose so many dB.

    `width_hz` is the 3 dB width of one. A meter that hides `lost_db` in its noise leaves it anywhere within this.

    Raises:
        ValueError: where the loss or the number of circuits makes no sense.
    """
    if lost_db < 0.0 or circuits < 1:
        raise ValueError("A loss is not below zero, and there is at least one circuit to lose it.")
    return 0.5 * width_hz * math.sqrt(math.pow(10.0, lost_db / (10.0 * circuits)) - 1.0)
