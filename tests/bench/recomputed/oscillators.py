"""Oscillators: voltages at a test point, and counts."""

from collections import defaultdict

import numpy as np

from tests.bench.recomputed.export import Figure, Run


def activities_db(run: Run, reference: str) -> dict[str, Figure]:
    """Give each band's test point voltage against that of a reference band; none where nothing oscillates."""
    volts: dict[str, list[float]] = defaultdict(list)
    for reading in run.readings:
        volts[reading.purpose.removeprefix("band ")].append(reading.value)
    means = {
        band: (float(np.mean(each)), float(np.std(each, ddof=1) / np.sqrt(len(each)))) for band, each in volts.items()
    }
    base, base_sigma = means[reference]
    return {
        band: Figure(
            float(20.0 * np.log10(mean / base)),
            float(20.0 / np.log(10.0) * np.hypot(sigma / mean, base_sigma / base)),
        )
        for band, (mean, sigma) in means.items()
        if abs(mean) > 1e-3 * abs(base)
    }


def frequency_error_hz(run: Run, nominal_hz: float) -> Figure:
    """Give how far the last counts of an oscillator are from its frequency."""
    counts = [reading.value for reading in run.readings if reading.purpose == "oscillator"][-3:]
    return Figure(float(np.mean(counts)) - nominal_hz, float(np.std(counts, ddof=1) / np.sqrt(len(counts))))
