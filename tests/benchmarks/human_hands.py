"""Hands like a person's on the live display: how many get there, how far off they stay, how often they are misled.

On paper: four kinds of hand, meters of 1, 5 and 30 readings a second behind a lag of 0.3 s, seeds from 0 on. Against
them the same hands without the display: peaking by a needle read to half a decibel, zero-beating in a dead zone of
30 Hz. Then the tunable IF circuit of Skerry 7 receivers on the simulators' physics, held against their truth.
"""

import argparse
import math
from collections.abc import Sequence
from statistics import median

from sequences.alignment.outcome import Phase, Turning
from sequences.kinds.single_peak import single_peak
from sequences.procedures.adjusting.circuit_findings import LEFT
from tests.bench.in_process import InProcess
from tests.bench.live_robot import LiveRobot
from tests.hands_on_paper import Meter, Trial, beaten_by_ear, error_trial, peak_trial, peaked_by_hand
from tests.human_hands import KINDS, HandKind

RATES_HZ = (1.0, 5.0, 30.0)
METER_S = 0.2
STEP = "filter-tunable-if-circuit"


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=20, help="trials of each hand with each meter")
    parser.add_argument("--receivers", type=int, default=5, help="receivers for each hand")
    asked = parser.parse_args()
    _say(f"{'':16} {'done':>9} {'left, median':>13} {'worst':>7} {'by hand':>8} {'misled':>7}")
    for kind in KINDS:
        seeds = range(asked.trials)
        by_hand_db = median(peaked_by_hand(kind, seed) for seed in range(4 * asked.trials))
        by_ear_hz = median(beaten_by_ear(kind, seed) for seed in range(4 * asked.trials))
        for rate_hz in RATES_HZ:
            peaks = [peak_trial(kind, Meter(rate_hz), seed) for seed in seeds]
            _show(f"{kind.name} {rate_hz:g}/s peak", peaks, by_hand_db, "dB")
            errors = [error_trial(kind, Meter(rate_hz, noise=1.0), seed) for seed in seeds]
            _show(f"{kind.name} {rate_hz:g}/s error", errors, by_ear_hz, "Hz")
    for kind in KINDS:
        _on_receivers(kind, asked.receivers)


def _show(name: str, trials: Sequence[Trial], by_hand: float, unit: str) -> None:
    done = sum(trial.done for trial in trials)
    left = [trial.left for trial in trials]
    astray = sum(trial.astray for trial in trials) / max(1, sum(trial.moves for trial in trials))
    far = f"{median(left):9.3f} {unit} {max(left):7.2f} {by_hand:8.3f}"
    _say(f"{name:18} {done:3d}/{len(trials):<3d} {far} {astray:7.2%}")


def _say(line: str) -> None:
    print(line, flush=True)  # noqa: T201 - a benchmark prints


def _on_receivers(kind: HandKind, count: int) -> None:
    """Turn the tunable IF's trimmer of units with seeds from 1 on, and say what is lost by the simulator's truth."""
    lost, covered = [], 0
    for seed in range(1, count + 1):
        on = InProcess("skerry-7", seed, METER_S)
        robot = LiveRobot(on, kind=kind, clock=on.clock)
        on.sink.onward = robot.see
        outcome = on.run(single_peak(on.task(STEP, Phase.ADJUST, turning=Turning.LIVE)), robot)
        circuit = on.truth()["circuits"]["tunable IF"]
        x = 2.0 * (float(on.ask("source", "FREQ?")) - circuit["peak_hz"]) / circuit["width_3db_hz"]
        lost.append(10.0 * math.log10(1.0 + x * x))
        left = next((one.figure for one in outcome.findings if one.name == LEFT.name), None)
        covered += left is not None and abs(left.value - lost[-1]) <= 1.96 * left.sigma
    _say(
        f"Skerry 7, tunable IF, {kind.name}: {median(lost):.3f} dB lost, {max(lost):.3f} dB at worst; "
        f"{covered} of {count} intervals of what is left cover the truth"
    )


if __name__ == "__main__":
    main()
