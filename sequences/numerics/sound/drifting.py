"""One tone whose frequency drifts evenly over the record, fitted alone."""

from dataclasses import dataclass

import numpy as np

from sequences.numerics.arrays import Array

_MOST_STEPS = 12
_LONGEST_STEP = 0.25
_CONVERGED = 1e-4


@dataclass(frozen=True, slots=True)
class DriftingTone:
    """A drifting tone: frequency in the middle, drift, peak value, and variances for noise of variance one."""

    tone_hz: float
    drift_hz_per_s: float
    amplitude: float
    samples: Array
    unit_variance_hz2: float
    unit_variance_drift: float
    unit_variance_amplitude: float


def fit_drifting(samples: Array, rate_hz: float, tone_hz: float, drift_hz_per_s: float) -> DriftingTone:
    """Fit one drifting tone, beginning at a frequency and a drift."""
    count = len(samples)
    length_s = count / rate_hz
    times_s = (np.arange(count) - (count - 1) / 2) / rate_hz
    made, inverse, linear = np.zeros(count), np.zeros((4, 4)), np.zeros(2)
    for _ in range(_MOST_STEPS):
        phase = 2 * np.pi * (tone_hz + drift_hz_per_s * times_s / 2) * times_s
        cosine, sine = np.cos(phase), np.sin(phase)
        plain = np.stack((cosine, sine), axis=1)
        linear = np.linalg.solve(plain.T @ plain, plain.T @ samples)
        made = plain @ linear
        turned = linear[1] * cosine - linear[0] * sine
        columns = np.column_stack((plain, 2 * np.pi * times_s * turned, np.pi * times_s**2 * turned))
        inverse = np.linalg.pinv(columns.T @ columns, hermitian=True, rcond=1e-18)
        moves = (inverse @ (columns.T @ (samples - made)))[2:]
        step_hz = float(np.clip(moves[0], -_LONGEST_STEP / length_s, _LONGEST_STEP / length_s))
        most = 4 * _LONGEST_STEP / length_s**2
        step_drift = float(np.clip(moves[1], -most, most))
        tone_hz, drift_hz_per_s = tone_hz + step_hz, drift_hz_per_s + step_drift
        if abs(step_hz) * length_s < _CONVERGED and abs(step_drift) * length_s**2 < _CONVERGED:
            break
    amplitude = float(np.hypot(*linear))
    along = linear / max(amplitude, np.finfo(float).tiny)
    return DriftingTone(
        tone_hz,
        drift_hz_per_s,
        amplitude,
        made,
        unit_variance_hz2=float(inverse[2, 2]),
        unit_variance_drift=float(inverse[3, 3]),
        unit_variance_amplitude=float(along @ inverse[:2, :2] @ along),
    )
