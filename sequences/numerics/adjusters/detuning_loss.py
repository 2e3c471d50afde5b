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
