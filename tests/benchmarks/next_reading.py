"""How few readings the search needs, against other ways of choosing frequencies, all in one run.

Run with: python -m tests.benchmarks.next_reading [trials]

One tuned circuit, its 3 dB width a twentieth of the window, anywhere in the window with its passband inside; readings
with 0.5 dB noise; wanted are the centre to 1 % of the width and the width to 2 %, or the centre alone.
"""

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import adaptive
import lmfit
import numpy as np
from rich.console import Console
from rich.table import Table

from sequences.numerics.responses.passband import PassbandFit, fit_passband
from sequences.numerics.search.next_reading import Finished, ScanGoal, begin, choose, current_fit, observe
from tests.sequences.numerics.search_truths import Array, Meter, Truth, run, single_circuit

WIDTH_HZ = 5e3
START_HZ, STOP_HZ = 405e3, 505e3
NOISE_DB = 0.5
NO_FLOOR_DB = -200.0
BUDGET = 400

CENTRE_GOAL, WIDTH_GOAL = 0.01, 0.02
# Closed form for one circuit read in dB with even noise, the answer known beforehand: see test_design_criterion.
BOUND_BOTH = 2.0 * (NOISE_DB / (4.343 * WIDTH_GOAL)) ** 2
BOUND_CENTRE = (NOISE_DB / (8.686 * CENTRE_GOAL)) ** 2

ADAPTIVE_READINGS = 300
SHORT = 0.25
"""The cheap methods need fewer trials for their table."""


@dataclass(frozen=True, slots=True)
class Spent:
    """Mean readings, and rms errors of centre and width as shares of the width, shape (2,)."""

    readings: float
    rms: Array

    def readings_for(self, rms: Array) -> float:
        """Readings that would bring these errors down to others, by the square-root law; the worse figure rules."""
        return float(self.readings * np.max((self.rms / rms) ** 2))


def a_truth(trial: int) -> Truth:
    """A circuit somewhere in the window."""
    place = np.random.default_rng(10_000 + trial).random()
    return single_circuit(START_HZ + WIDTH_HZ + place * (STOP_HZ - START_HZ - 2.0 * WIDTH_HZ), WIDTH_HZ)


def readings_at(truth: Truth, places: Array, dice: np.random.Generator) -> Array:
    """Read a response at many frequencies."""
    meter = Meter(truth, NOISE_DB, NO_FLOOR_DB)
    return np.array([meter.read(float(place), 0, dice) for place in places])


def error_of(fit: PassbandFit | None, truth: Truth) -> tuple[float, float]:
    """Errors of centre and width as shares of the width; NaN where the fit gives none."""
    if fit is None or fit.centre is None or fit.width_3db is None:
        return float("nan"), float("nan")
    return (fit.centre.value - truth.centre_hz) / WIDTH_HZ, (fit.width_3db.value - WIDTH_HZ) / WIDTH_HZ


def rms_of(errors: list[tuple[float, float]]) -> Array:
    """Root mean square of each column, failures left out."""
    return np.asarray(np.sqrt(np.nanmean(np.square(errors), axis=0)))


def by_search(goal: ScanGoal, trials: int) -> Spent:
    """The search of this project."""
    errors, counts = [], []
    for trial in range(trials):
        truth = a_truth(trial)
        scanned = run(goal, Meter(truth, NOISE_DB, NO_FLOOR_DB), trial)
        errors.append(error_of(current_fit(scanned.search), truth))
        counts.append(len(scanned.frequency_hz))
    return Spent(float(np.mean(counts)), rms_of(errors))


def by_even_sweep(readings: int, trials: int) -> Spent:
    """An even sweep, fitted with the right kind of curve by lmfit from a start by eye."""
    errors = []
    for trial in range(trials):
        truth = a_truth(trial)
        places = np.linspace(START_HZ, STOP_HZ, readings)
        levels = readings_at(truth, places, np.random.default_rng(trial))
        errors.append(lmfit_errors(places, levels, truth))
    return Spent(readings, rms_of(errors))


def lmfit_errors(places: Array, levels: Array, truth: Truth) -> tuple[float, float]:
    """Fit a single circuit in dB."""
    top = int(np.argmax(levels))
    start = lmfit.create_params(
        resonance={"value": places[top], "min": START_HZ, "max": STOP_HZ},
        width={"value": WIDTH_HZ, "min": 0.02 * WIDTH_HZ, "max": 50.0 * WIDTH_HZ},
        top={"value": levels[top]},
    )

    def residual(parameters: lmfit.Parameters) -> Array:
        f0, width = parameters["resonance"].value, parameters["width"].value
        detuning = (places - f0**2 / places) / width
        return np.asarray(parameters["top"].value - 10.0 * np.log10(1.0 + detuning**2) - levels)

    found = lmfit.minimize(residual, start).params
    width = found["width"].value
    centre = float(np.hypot(found["resonance"].value, 0.5 * width))
    return (centre - truth.centre_hz) / WIDTH_HZ, (width - WIDTH_HZ) / WIDTH_HZ


def by_adaptive_sampler(readings: int, trials: int, loss: Callable[..., float] | None) -> Spent:
    """The general-purpose sampler Learner1D, with the fit of this project."""
    errors = []
    for trial in range(trials):
        truth, dice = a_truth(trial), np.random.default_rng(trial)
        meter = Meter(truth, NOISE_DB, NO_FLOOR_DB)
        learner = adaptive.Learner1D(None, (START_HZ, STOP_HZ), loss_per_interval=loss)
        for index in range(readings):
            (place,), _ = learner.ask(1)
            learner.tell(place, meter.read(place, index, dice))
        taken = np.array(sorted(learner.data.items()))
        errors.append(error_of(fit_passband(taken[:, 0], taken[:, 1]), truth))
    return Spent(readings, rms_of(errors))


def by_highest_point(readings: int, trials: int) -> float:
    """Rms error of the centre, as a share of the width, where the highest reading of an even sweep is taken for it."""
    errors = []
    for trial in range(trials):
        truth = a_truth(trial)
        places = np.linspace(START_HZ, STOP_HZ, readings)
        levels = readings_at(truth, places, np.random.default_rng(trial))
        errors.append((places[int(np.argmax(levels))] - truth.centre_hz) / WIDTH_HZ)
    return float(np.sqrt(np.mean(np.square(errors))))


def times_ms(goal: ScanGoal, trials: int) -> tuple[Array, Array]:
    """How long each choice took, and each observation, in milliseconds."""
    choosing, observing = [], []
    for trial in range(trials):
        meter, dice = Meter(a_truth(trial), NOISE_DB, NO_FLOOR_DB), np.random.default_rng(trial)
        search = begin(goal)
        for index in range(BUDGET):
            began = time.perf_counter()
            move = choose(search)
            choosing.append(1e3 * (time.perf_counter() - began))
            if isinstance(move, Finished):
                break
            level = meter.read(move.frequency_hz, index, dice)
            began = time.perf_counter()
            search = observe(search, move.frequency_hz, level)
            observing.append(1e3 * (time.perf_counter() - began))
    return np.array(choosing), np.array(observing)


def compare(console: Console, title: str, goal: ScanGoal, bound: float, trials: int) -> None:
    """Print one table: readings for the errors that the search reached."""
    ours = by_search(goal, trials)
    # What was not asked for is not held against anyone.
    wanted = np.where([goal.centre_fraction is None, goal.width_fraction is None], np.inf, ours.rms)
    few = max(10, int(SHORT * trials))
    sweep = by_even_sweep(247, trials)
    samplers = [
        by_adaptive_sampler(ADAPTIVE_READINGS, few, loss)
        for loss in (None, adaptive.learner.learner1D.curvature_loss_function())
    ]
    table = Table("way of choosing", "readings", "against ours", "rms centre %", "rms width %", title=title)
    rows = [
        ("best fixed design (Cramer-Rao)", bound, None),
        ("this search", ours.readings, ours.rms),
        ("even sweep, lmfit", sweep.readings_for(wanted), sweep.rms),
        ("adaptive Learner1D, same fit", samplers[0].readings_for(wanted), samplers[0].rms),
        ("the same, by curvature", samplers[1].readings_for(wanted), samplers[1].rms),
    ]
    for name, readings, rms in rows:
        shown = ["", ""] if rms is None else [f"{100.0 * each:.2f}" for each in rms]
        table.add_row(name, f"{readings:.1f}", f"{readings / ours.readings:.2f}", *shown)
    console.print(table)
    highest = by_highest_point(round(ours.readings), trials)
    console.print(
        f"against the bound {ours.readings / bound:.3f}; errors of sweep and samplers are those at 247 and "
        f"{ADAPTIVE_READINGS} readings, brought to ours by the square-root law\n"
        f"highest point wins, {ours.readings:.0f} readings: rms centre {100.0 * highest:.1f} %, "
        f"{highest / ours.rms[0]:.0f} times ours\n"
    )


def main() -> None:
    """Print the tables."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    console = Console(width=110)
    both = ScanGoal(START_HZ, STOP_HZ, CENTRE_GOAL, WIDTH_GOAL, BUDGET)
    compare(console, f"centre to 1 %, width to 2 %, {trials} trials", both, BOUND_BOTH, trials)
    centre = ScanGoal(START_HZ, STOP_HZ, CENTRE_GOAL, None, BUDGET)
    compare(console, f"centre to 1 % alone, {trials} trials", centre, BOUND_CENTRE, trials)
    table = Table("ms", "median", "90 %", "99 %", title="time of one step")
    choosing, observing = times_ms(both, max(5, trials // 10))
    for name, times in (("choose", choosing), ("observe", observing)):
        table.add_row(name, *(f"{each:.2f}" for each in np.percentile(times, [50, 90, 99])))
    console.print(table)


if __name__ == "__main__":
    main()
