"""How a signal stands in its noise, as receivers are rated: SINAD, and (S+N)/N."""

import math

import numpy as np

from sequences.numerics.arrays import Array


def sinad_db(samples: Array, residual_power: float) -> float:
    """Give signal, noise and distortion over noise and distortion, in dB.

    `residual_power` is the mean square of what is left with the tone, and nothing else, taken out: hum and harmonics
    count as noise and distortion. The definition is that of ITU-T O.132 and of the handbooks (from memory).
    """
    whole = float(np.mean(np.square(samples - samples.mean())))
    return 10 * math.log10(whole / residual_power)


def signal_to_noise_db(with_signal: Array, without_signal: Array) -> float:
    """Give (S+N)/N in dB from two records: one with the signal, one with the source off."""
    return 10 * math.log10(float(np.var(with_signal)) / float(np.var(without_signal)))
