"""Each receiver file of the tests, made into a practice receiver and aligned from end to end over sockets.

Printed: seeds, steps within their limits of all, steps that end elsewhere, the worst dial error left by the simulator's
own truth beside its limit, and how many questions were asked.
"""

import argparse

from sequences.receiver.file import load_receiver
from tests.bench.described import DESCRIBED, FILES, dial_error_khz, walk_file


def main() -> None:
    """Print a row a file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=1, help="units of each file")
    asked = parser.parse_args()
    _say(f"{'file':12} {'seed':>4} {'good':>6} {'dial, kHz':>10} {'limit':>6} {'asked':>6}  elsewhere")
    for name in DESCRIBED:
        limit_khz = load_receiver(FILES / f"{name}.toml").limits.dial_khz
        for seed in range(1, asked.seeds + 1):
            walked = walk_file(name, seed)
            good = [step for step, ending in walked.endings.items() if ending == "within its limits"]
            rest = {step: ending for step, ending in walked.endings.items() if step not in good}
            count = f"{len(good)}/{len(walked.endings)}"
            told = "; ".join([*(f"{step}: {ending}" for step, ending in rest.items()), *walked.before["faults"]])
            error_khz = dial_error_khz(walked)
            _say(f"{name:12} {seed:4} {count:>6} {error_khz:10.3g} {limit_khz:6g} {walked.questions:6}  {told}")


def _say(text: str) -> None:
    print(text, flush=True)  # noqa: T201 - a benchmark prints


if __name__ == "__main__":
    main()
