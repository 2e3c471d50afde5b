"""`python -m simulators`: run a practice bench until standard input closes or the process is told to end."""

import argparse
import json
import os
import signal
import sys
import threading

from simulators.bench import BenchOptions, PracticeBench
from simulators.instruments.delays import Delays
from simulators.radios.catalogue import MODELS
from simulators.workbench import BenchSettings


def main(arguments: list[str] | None = None) -> int:
    """Serve, print the addresses as one line of JSON, wait for the end. Give the exit status."""
    parser = _parser()
    parsed = parser.parse_args(arguments)
    try:
        options = _options(parsed)
    except ValueError as error:
        parser.error(str(error))
    bench = PracticeBench(options)
    ended = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: ended.set())
    bench.start()
    sys.stdout.write(json.dumps(bench.addresses) + "\n")
    sys.stdout.flush()
    threading.Thread(target=_watch_input, args=(ended,), daemon=True).start()
    ended.wait()
    bench.stop()
    return 0


def _watch_input(ended: threading.Event) -> None:
    """Wait for the end of standard input: whoever started this process is gone, or wants it to end."""
    while os.read(sys.stdin.fileno(), 4096):
        pass
    ended.set()


def _options(parsed: argparse.Namespace) -> BenchOptions:
    settings = BenchSettings(
        seed=parsed.seed,
        receiver_id=parsed.receiver,
        misalignment=parsed.misalignment,
        noise_db=parsed.noise_db,
        cold=parsed.cold,
        at_once=parsed.instant,
    )
    delays = Delays.none() if parsed.instant else Delays.parse(parsed.delays)
    return BenchOptions(settings, delays, stepped_time=parsed.stepped_time, late_s=parsed.late_s)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m simulators", description="A practice bench on loopback ports.")
    parser.add_argument("--seed", type=int, default=1, help="which unit of the receiver stands on the bench")
    parser.add_argument("--receiver", choices=tuple(MODELS), default="skerry-7")
    parser.add_argument("--misalignment", type=float, default=1.0, help="0 for a receiver as its maker meant it")
    parser.add_argument("--noise-db", type=float, default=0.02, help="wobble of every level, one sigma")
    parser.add_argument("--delays", default="", metavar="KEY=S,...", help="seconds: source, meter, counter, exchange")
    parser.add_argument("--late-s", type=float, default=3.0, help="how late a late reply is")
    parser.add_argument("--cold", action="store_true", help="the receiver has just been switched on")
    parser.add_argument("--instant", action="store_true", help="no delay anywhere; the receiver settles at once")
    parser.add_argument("--stepped-time", action="store_true", help="delays are counted but not waited for")
    return parser


if __name__ == "__main__":
    raise SystemExit(main())
