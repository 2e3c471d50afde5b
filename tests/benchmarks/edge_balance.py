"""How surely a slug is set by edge balance, against peaking by meter, at equal noise and equal readings, in one run.

Run with: python -m tests.benchmarks.edge_balance [trials]

One tuned circuit, off by up to half its 3 dB width either way; the same fingers turn the slug in every way of working,
and every way may read the meter equally often. Peaking by meter is done in two ways, each at the nudge that suits it
best: stepping through the peak and going back to the highest reading, and climbing with ever smaller nudges. Step and
fit stands beside them. Edge balance knows the circuit's curve from the sweep as found.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table

from sequences.numerics.adjusters.edge_balance import HopPoints, KnownCircuit, hop_points, read_edges
from sequences.numerics.adjusters.step_and_fit import fit_steps
from sequences.numerics.figures import Estimate

WIDTH_HZ, TARGET_HZ = 500.0, 60_000.0
READINGS = 24
FINGERS = 0.03
"""One sigma of a turn, as a share of it."""


@dataclass(frozen=True, slots=True)
class SingleCircuit:
    """The universal resonance curve, centred on the target."""

    def level_db(self, frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
        """Level in dB, shape (n,)."""
        x = 2.0 * (np.asarray(frequency_hz, dtype=np.float64) - TARGET_HZ) / WIDTH_HZ
        return -10.0 * np.log10(1.0 + x * x)


class Chassis:
    """A slug, the fingers on it, and a meter; it counts the readings."""

    def __init__(self, detuning_hz: float, noise_db: float, dice: np.random.Generator) -> None:
        self.detuning_hz, self.noise_db, self.dice = detuning_hz, noise_db, dice
        self.readings = 0

    def turn(self, by_hz: float) -> None:
        """Turn the slug by what moves the circuit so far, nearly."""
        self.detuning_hz += by_hz * (1.0 + FINGERS * float(self.dice.standard_normal()))

    def read_db(self, source_hz: float = TARGET_HZ) -> float:
        """Read the level."""
        self.readings += 1
        level = SingleCircuit().level_db(np.array([source_hz - self.detuning_hz]))
        return float(level[0]) + self.noise_db * float(self.dice.standard_normal())


Method = Callable[[Chassis], None]


def balance_edges(circuit: KnownCircuit, points: HopPoints) -> Method:
    """Hop, turn by what is shown, hop again; the last ten pairs are averaged before the last turn."""

    def work(chassis: Chassis) -> None:
        for pairs in (1, 1, READINGS // 2 - 2):
            lower, upper = np.array(
                [(chassis.read_db(points.lower_hz), chassis.read_db(points.upper_hz)) for _ in range(pairs)]
            ).T
            sigma_db = chassis.noise_db / np.sqrt(pairs)
            shown = read_edges(
                circuit, points, Estimate(float(lower.mean()), sigma_db), Estimate(float(upper.mean()), sigma_db)
            )
            error_hz = 0.5 * WIDTH_HZ * shown.sense if shown.detuning_hz is None else shown.detuning_hz.value
            chassis.turn(-error_hz)

    return work


def step_through(span_hz: float) -> Method:
    """Step through the peak by equal nudges, then go back to the highest reading."""

    def work(chassis: Chassis) -> None:
        nudge_hz = span_hz / (READINGS - 1)
        chassis.turn(-0.5 * span_hz)
        levels = [chassis.read_db()]
        for _ in range(READINGS - 1):
            chassis.turn(nudge_hz)
            levels.append(chassis.read_db())
        chassis.turn(-(READINGS - 1 - int(np.argmax(levels))) * nudge_hz)

    return work


def climb(first_hz: float) -> Method:
    """Turn while the meter rises; when it falls, turn back by half as much; never less than a tenth of the first."""

    def work(chassis: Chassis) -> None:
        nudge_hz, last_db = first_hz, chassis.read_db()
        while chassis.readings < READINGS:
            chassis.turn(nudge_hz)
            now_db = chassis.read_db()
            if now_db < last_db:
                nudge_hz = -np.sign(nudge_hz) * max(0.5 * abs(nudge_hz), 0.1 * first_hz)
            last_db = now_db

    return work


def step_and_fit(span_hz: float) -> Method:
    """Step through the peak by equal nudges, fit, and go back as told."""

    def work(chassis: Chassis) -> None:
        nudge_hz = span_hz / (READINGS - 1)
        chassis.turn(-0.5 * span_hz)
        levels = [chassis.read_db()]
        for _ in range(READINGS - 1):
            chassis.turn(nudge_hz)
            levels.append(chassis.read_db())
        told = fit_steps(np.arange(READINGS), levels, chassis.noise_db)
        back = READINGS - 1 - int(np.argmax(levels)) if told.go_back is None else told.go_back.value
        chassis.turn(-back * nudge_hz)

    return work


def spread_percent(method: Method, noise_db: float, trials: int) -> float:
    """Root mean square of the detuning left, in percent of the width."""
    left_hz = []
    for trial in range(trials):
        dice = np.random.default_rng(trial)
        chassis = Chassis(float(dice.uniform(-0.5, 0.5)) * WIDTH_HZ, noise_db, dice)
        method(chassis)
        if chassis.readings != READINGS:
            raise ValueError(f"This way of working took {chassis.readings} readings instead of {READINGS}.")
        left_hz.append(chassis.detuning_hz)
    return float(100.0 * np.sqrt(np.mean(np.square(left_hz))) / WIDTH_HZ)


def compare(noise_db: float, trials: int) -> dict[str, float]:
    """Give the spread each way of working leaves, in percent of the width; peaking at the nudge that suits it best."""
    circuit = KnownCircuit(SingleCircuit(), TARGET_HZ, WIDTH_HZ, TARGET_HZ)
    shares = (1.2, 1.5, 2.0, 3.0)
    return {
        "edge balance": spread_percent(balance_edges(circuit, hop_points(circuit)), noise_db, trials),
        "peaking, back to the highest": min(
            spread_percent(step_through(share * WIDTH_HZ), noise_db, trials) for share in shares
        ),
        "peaking, climbing": min(
            spread_percent(climb(share * WIDTH_HZ), noise_db, trials) for share in (0.05, 0.1, 0.2, 0.4)
        ),
        "step and fit": min(spread_percent(step_and_fit(share * WIDTH_HZ), noise_db, trials) for share in shares),
    }


def main() -> None:
    """Print the table."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    title = f"detuning left, rms in % of the 3 dB width; {READINGS} readings, {trials} trials; in brackets: times ours"
    noises_db = (0.05, 0.1, 0.2, 0.5)
    table = Table("way of working", *(f"{noise:g} dB" for noise in noises_db), title=title)
    columns = [compare(noise, trials) for noise in noises_db]
    for name in columns[0]:
        shown = (f"{each[name]:.2f} ({each[name] / each['edge balance']:.1f})" for each in columns)
        table.add_row(name, *shown)
    Console(width=110).print(table)


if __name__ == "__main__":
    main()
