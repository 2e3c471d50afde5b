"""What a counter's reading is worth: the uncertainty its gate and its resolution leave."""

import math


def count_sigma_hz(frequency_hz: float, gate_s: float, time_resolution_s: float | None = None) -> float:
    """Give the one-sigma uncertainty, in Hz, that the counting itself leaves.

    A direct counter counts whole cycles: off by up to 1/gate either way. A reciprocal counter times whole cycles:
    off by up to its time resolution over the gate, as a share of the frequency. Both errors are the difference of two
    chance phases, spread as a triangle, whose sigma is its half-width over the square root of six. The reference's
    own error is extra.

    Args:
        frequency_hz: The frequency counted.
        gate_s: How long it was counted.
        time_resolution_s: The time resolution of a reciprocal counter; None for a direct one.

    Raises:
        ValueError: where the gate is not above zero.
    """
    if not gate_s > 0.0:
        raise ValueError("A counter's gate must be longer than nothing.")
    half_width_hz = 1.0 / gate_s if time_resolution_s is None else abs(frequency_hz) * time_resolution_s / gate_s
    return half_width_hz / math.sqrt(6.0)
