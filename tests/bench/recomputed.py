"""Recomputes an alignment's figures from the exported readings alone, with numpy, scipy and lmfit and none of ours.

What is taken from the export: of each run its `readings.csv` (what the source stood at and what the instruments read)
and, from its `run.json`, which step it was for and when which control was set. What a figure means is written down here
once more: the 3 dB points are the outermost crossings 10 lg 2 dB below the top, a centre lies midway between them, a
zero beat is where two beats beside it are equal, a level is 20 times the logarithm of a voltage ratio.
"""

import csv
import io
import json
import zipfile
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import lmfit
import numpy as np
from numpy.polynomial import Chebyshev
from numpy.typing import NDArray
from scipy.optimize import brentq

Floats = NDArray[np.float64]
HALF_POWER_DB = 10.0 * np.log10(2.0)
LAW_TERMS = 5
GRID = 8001
STEP_SHARE = 1e-6


@dataclass(frozen=True)
class Figure:
    """A value and its one sigma, as recomputed."""

    value: float
    sigma: float


@dataclass(frozen=True)
class Reading:
    """One line of a `readings.csv` that holds a value, and how the controls stood when it was taken."""

    purpose: str
    value: float
    frequency_hz: float
    power_dbm: float
    controls: dict[str, Any]


@dataclass(frozen=True)
class Run:
    """One run of the export."""

    step: str
    phase: str
    readings: tuple[Reading, ...]


def read_export(path: Path) -> list[Run]:
    """Read the runs of an exported job."""
    with zipfile.ZipFile(path) as archive:
        folders = sorted(name.rpartition("/")[0] for name in archive.namelist() if name.endswith("run.json"))
        return [_read_run(archive, folder) for folder in folders]


def _read_run(archive: zipfile.ZipFile, folder: str) -> Run:
    run = json.loads(archive.read(f"{folder}/run.json"))
    settings = [setting for event in run["events"] if event["kind"] == "Asked" for setting in _settings(event)]
    rows = csv.DictReader(io.StringIO(archive.read(f"{folder}/readings.csv").decode()))
    return Run(run["step_id"], run["phase"], tuple(_reading(row, settings) for row in rows if row["value"]))


def _settings(event: dict[str, Any]) -> list[tuple[int, str, Any]]:
    """Give what a question has set: one control, or several together with the leads."""
    if event["action"] == "set":
        return [(event["seq"], event["subject"], event["detail"]["to"])]
    return [(event["seq"], control, to) for control, to in event["detail"].get("controls", {}).items()]


def _reading(row: dict[str, str], settings: list[tuple[int, str, Any]]) -> Reading:
    controls = {name: to for seq, name, to in settings if seq < int(row["seq"])}
    value, frequency_hz, power_dbm = (float(row[name] or "nan") for name in ("value", "frequency_hz", "power_dbm"))
    return Reading(row["purpose"], value, frequency_hz, power_dbm, controls)


# Responses: undo the detector's law, fit a circuit, find its 3 dB points.


def sweeps(run: Run) -> Iterator[tuple[Reading, ...]]:
    """Split a run into its sweeps: each begins with readings of the quiet meter, and learns the detector's law."""
    sweep: list[Reading] = []
    for reading in run.readings:
        if reading.purpose == "quiet" and sweep and sweep[-1].purpose != "quiet":
            yield tuple(sweep)
            sweep = []
        sweep.append(reading)
    yield tuple(sweep)


def levels(sweep: tuple[Reading, ...]) -> tuple[Floats, Floats, Floats]:
    """Give frequencies in Hz, levels in dB and their relative sigmas.

    The law is a smooth curve through the steps that the source took at one frequency; what the sweep read is looked up
    on it. Every meter reading is taken to be as noisy as its own size, so that the curve's slope weighs it.
    """
    calibration = [reading for reading in sweep if reading.purpose == "calibration"]
    by_frequency: dict[float, list[Reading]] = defaultdict(list)
    for reading in calibration:
        by_frequency[reading.frequency_hz].append(reading)
    steps = max(by_frequency.values(), key=lambda group: len({reading.power_dbm for reading in group}))
    quiet = [reading.value for reading in calibration if reading.frequency_hz == calibration[0].frequency_hz]
    rise = [abs(reading.value - float(np.mean(quiet))) for reading in steps]
    law = Chebyshev.fit(np.log(rise), [reading.power_dbm for reading in steps], LAW_TERMS)
    swept = [reading for reading in sweep if reading.purpose in {"calibration", "scan", "settling"}]
    swept = [
        reading
        for reading in swept
        if reading.frequency_hz != steps[0].frequency_hz or reading.purpose != "calibration"
    ]
    size = np.log(np.maximum([abs(reading.value - float(np.mean(quiet))) for reading in swept], 1e-12))
    known = (size >= np.log(min(rise))) & (size <= np.log(max(rise)))
    frequency_hz = np.array([reading.frequency_hz for reading in swept])[known]
    power_dbm = np.array([reading.power_dbm for reading in swept])[known]
    return frequency_hz, law(size[known]) - power_dbm, np.abs(law.deriv()(size[known]))


Model = Callable[..., Floats]


def two_circuits(hz: Floats, first_hz: float, second_hz: float, quality: float, top_db: float) -> Floats:
    """Two circuits of one Q, each on its own frequency, one after the other."""
    loss = [1.0 + (quality * (hz / own - own / hz)) ** 2 for own in (first_hz, second_hz)]
    return np.asarray(top_db - 10.0 * np.log10(loss[0] * loss[1]))


def four_circuits(hz: Floats, centre_hz: float, a: float, b: float, c: float, d: float, top_db: float) -> Floats:
    """Four poles in two pairs, -a +- jb and -c +- jd, about a centre, in the exact detuning of a resonant circuit."""
    detuned = (hz / centre_hz - centre_hz / hz) * centre_hz / 2.0
    pairs = [
        ((p * p + q * q - detuned**2) ** 2 + 4 * p * p * detuned**2) / (p * p + q * q) ** 2 for p, q in ((a, b), (c, d))
    ]
    return np.asarray(top_db - 10.0 * np.log10(pairs[0] * pairs[1]))


def fit_response(sweep: tuple[Reading, ...], circuits: int) -> tuple[Figure, Figure]:
    """Give centre and 3 dB width in Hz."""
    hz, level_db, weight_db = levels(sweep)
    near_hz = hz[level_db > level_db.max() - 4.0]
    middle_hz, half_hz = float(near_hz.mean()), float(np.ptp(near_hz)) / 2.0
    starts = _starts(circuits, middle_hz, half_hz, float(level_db.max()))
    model = two_circuits if circuits == 2 else four_circuits
    fits = [_fit(model, start, hz, level_db, weight_db) for start in starts]
    best = min(fits, key=lambda fit: fit.chisqr)
    values = np.array([parameter.value for parameter in best.params.values()])

    def points(at: Floats) -> Floats:
        return _centre_and_width(lambda x: model(x, *at), middle_hz, half_hz)

    slopes = np.array([_slope(points, values, index) for index in range(values.size)]).T
    jacobian = np.array([_slope(lambda at: model(hz, *at) / weight_db, values, index) for index in range(values.size)])
    covariance = np.linalg.pinv(jacobian @ jacobian.T, rcond=1e-12) * best.redchi
    sigma = np.sqrt(np.diag(slopes @ covariance @ slopes.T))
    centre, width = points(values)
    return Figure(float(centre), float(sigma[0])), Figure(float(width), float(sigma[1]))


def _starts(circuits: int, middle_hz: float, half_hz: float, top_db: float) -> list[dict[str, float]]:
    if circuits == 2:
        apart = (0.05, 0.3, 0.6)
        quality = middle_hz / half_hz / 2.0
        return [
            {"f": middle_hz - half_hz * by, "g": middle_hz + half_hz * by, "q": quality, "top": top_db} for by in apart
        ]
    shapes = ((0.9, 0.4, 0.4, 0.9), (0.5, 0.3, 0.5, 1.0), (0.7, 0.7, 0.7, 0.2), (0.3, 1.0, 0.9, 0.3))
    return [
        {"centre": middle_hz, **{name: half_hz * part for name, part in zip("abcd", shape, strict=True)}, "top": top_db}
        for shape in shapes
    ]


def _fit(model: Model, start: dict[str, float], hz: Floats, level_db: Floats, weight_db: Floats) -> Any:  # noqa: ANN401 - lmfit is untyped
    parameters = lmfit.Parameters()
    for name, value in start.items():
        parameters.add(name, value)

    def misfit(now: Any) -> Floats:  # noqa: ANN401 - the same
        return np.asarray((model(hz, *(now[name].value for name in start)) - level_db) / weight_db)

    return lmfit.minimize(misfit, parameters, method="least_squares", x_scale="jac")


def _slope(function: Callable[[Floats], Floats], at: Floats, index: int) -> Floats:
    step = np.zeros_like(at)
    step[index] = max(abs(at[index]) * STEP_SHARE, 1e-6)
    return np.asarray((function(at + step) - function(at - step)) / (2.0 * step[index]))


def _centre_and_width(response: Callable[[Floats], Floats], middle_hz: float, half_hz: float) -> Floats:
    grid = np.linspace(middle_hz - 2.5 * half_hz, middle_hz + 2.5 * half_hz, GRID)
    level_db = response(grid)
    least_db = level_db.max() - HALF_POWER_DB
    inside = np.flatnonzero(level_db >= least_db)

    def over(hz: float) -> float:
        return float(response(np.array([hz]))[0] - least_db)

    lower = brentq(over, grid[inside[0] - 1], grid[inside[0]])
    upper = brentq(over, grid[inside[-1]], grid[inside[-1] + 1])
    return np.array([(lower + upper) / 2.0, upper - lower])


# The dial: where two beats beside the signal are equal.


def dial_errors_khz(run: Run, tuned_khz: Callable[[float], float]) -> dict[float, float]:
    """Give the dial error at each mark, from the last two pairs of beats there.

    Args:
        run: a run over the marks of the dial.
        tuned_khz: gives the frequency that the source should be on, in kHz, for a mark in kHz.
    """
    pairs: dict[float, list[tuple[float, float]]] = defaultdict(list)
    for reading in run.readings:
        if reading.purpose == "beat":
            pairs[reading.controls["dial"]].append((reading.frequency_hz, reading.value))
    falls = tuned_khz(1.0) < tuned_khz(0.0)
    errors = {}
    for mark, beats in pairs.items():
        zero_hz = _zero_beat_hz(beats[-4:])
        off_khz = zero_hz / 1000.0 - tuned_khz(mark)
        errors[mark] = -off_khz if falls else off_khz
    return errors


def _zero_beat_hz(beats: list[tuple[float, float]]) -> float:
    above, below = max(hz for hz, _ in beats), min(hz for hz, _ in beats)
    beat = {hz: float(np.mean([each for at, each in beats if at == hz])) for hz in (above, below)}
    return (above - beat[above] + below + beat[below]) / 2.0


def best_pointer_shift(errors: dict[float, float]) -> tuple[float, float]:
    """Give the shift that makes the worst error smallest, and the worst error that it leaves."""
    largest, smallest = max(errors.values()), min(errors.values())
    return (largest + smallest) / 2.0, (largest - smallest) / 2.0


# Voltages and counts.


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
