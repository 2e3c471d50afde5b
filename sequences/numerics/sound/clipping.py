"""Clipping: samples that stand on a flat top, as an input that was driven too hard leaves them."""

import numpy as np

from sequences.numerics.arrays import Array

_LEAST_SAMPLES = 8
_TIMES_EXPECTED = 4.0


def is_clipped(samples: Array) -> bool:
    """Say whether either side of a record has a flat top, at whatever level it stands."""
    return _flat_top(samples) or _flat_top(-samples)


def _flat_top(samples: Array) -> bool:
    top = float(samples.max(initial=0.0))
    if top <= 0.0:
        return False
    at_top = samples == top
    count = int(at_top.sum())
    runs = int((at_top[1:] & at_top[:-1]).sum())
    if count < _LEAST_SAMPLES or runs < count // 3:
        return False
    return count > _TIMES_EXPECTED * _expected_at_top(samples, top)


def _expected_at_top(samples: Array, top: float) -> float:
    """Give how many samples of an unclipped tone round to its highest step, where a sine lingers."""
    levels = np.unique(samples[samples > 0.5 * top])
    step = float(np.diff(levels).min(initial=top)) if len(levels) > 1 else top
    share = np.arccos(max(1.0 - step / top, -1.0)) / np.pi
    return float(share * len(samples))
