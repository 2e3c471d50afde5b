"""`python -m simulators`: run a practice bench until standard input closes or the process is told to end."""

import argparse
import json
import math
import os
import signal
import sys
import threading
from collections.abc import Mapping
from pathlib import Path

from simulators.bench import BenchOptions, PracticeBench
from simulators.instruments.delays import Delays
from simulators.physics.troubles import TROUBLES, Troubles
from simulators.radios.catalogue import Model, described_model, shipped_models
from simulators.radios.described.paper import read_paper
from simulators.radios.radio import Conditions
from simulators.radios.table import Law, ladder_table, read_table, table_model
from simulators.workbench import BenchSettings

_WOBBLE_DB = 0.05


def main(arguments: list[str] | None = None) -> int:
    """Serve, print the addresses as one line of JSON, wait for the end. Give the exit status."""
    try:
        options = _options(_parser().parse_args(arguments))
    except ValueError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    bench = PracticeBench(options)
    ended, end = _pipe_that_signals_write_to(signal.SIGTERM, signal.SIGINT)
    bench.start()
    sys.stdout.write(json.dumps(bench.addresses) + "\n")
    sys.stdout.flush()
    threading.Thread(target=_watch_input, args=(end,), daemon=True).start()
    os.read(ended, 1)
    bench.stop()
    return 0


def _pipe_that_signals_write_to(*numbers: signal.Signals) -> tuple[int, int]:
    """Give the ends of a pipe into which a byte is written at each of these signals.

    Python runs a handler only between two steps of the main thread: one that came just before that thread began to wait
    for a lock would be heard after the wait, which is never. A byte in a pipe waits for whoever comes to read it.
    """
    out, into = os.pipe()
    os.set_blocking(into, False)
    signal.set_wakeup_fd(into)
    for number in numbers:
        signal.signal(number, lambda *_: None)
    return out, into


def _watch_input(end: int) -> None:
    """Wait for the end of standard input: whoever started this process is gone, or wants it to end."""
    while os.read(sys.stdin.fileno(), 4096):
        pass
    os.write(end, b"\0")


def _options(parsed: argparse.Namespace) -> BenchOptions:
    tabled = parsed.ladder or parsed.table is not None
    models = _table_model(parsed) if tabled else _described_models(parsed.receiver_file)
    if not tabled and parsed.receiver not in models:
        raise ValueError(f"There is no receiver {parsed.receiver!r}; there are {', '.join(models)}.")
    noise_db = parsed.noise_db
    if noise_db is None:
        noise_db = 0.0 if tabled else _WOBBLE_DB
    settings = BenchSettings(
        seed=parsed.seed,
        receiver_id=next(iter(models)) if tabled else parsed.receiver,
        models=models,
        misalignment=parsed.misalignment,
        conditions=Conditions(
            noise_db,
            cold=parsed.cold,
            settles_at_once=parsed.instant,
            troubles=Troubles.parse(parsed.troubles),
            seed=parsed.seed,
        ),
    )
    delays = Delays.none() if parsed.instant else Delays.parse(parsed.delays)
    if not 0.0 < parsed.speed < math.inf:
        raise ValueError(f"--speed must be a number above 0, not {parsed.speed:g}.")
    return BenchOptions(
        settings,
        delays,
        stepped_time=parsed.stepped_time,
        speed=parsed.speed,
        late_s=parsed.late_s,
        quiet_meter=tabled,
    )


def _described_models(files: list[Path]) -> Mapping[str, Model]:
    """Give the models that ship, and those of the files; a file with the id of one that ships has that one."""
    shipped = shipped_models()
    described = dict(described_model(read_paper(path)) for path in files)
    return {**shipped, **{key: model for key, model in described.items() if key not in shipped}}


def _table_model(parsed: argparse.Namespace) -> Mapping[str, Model]:
    table = ladder_table() if parsed.ladder else read_table(parsed.table)
    return table_model(table, Law(parsed.law), parsed.lag_s)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m simulators", description="A practice bench on loopback ports.")
    parser.add_argument("--seed", type=int, default=1, help="which unit of the receiver stands on the bench")
    parser.add_argument("--receiver", metavar="ID", default="skerry-7", help="which receiver stands there first")
    parser.add_argument(
        "--receiver-file", type=Path, action="append", default=[], metavar="FILE", help="add one that a file describes"
    )
    parser.add_argument("--table", type=Path, metavar="CSV", help="serve this response instead: frequency_hz, level_db")
    parser.add_argument("--ladder", action="store_true", help="serve the response of a four-crystal ladder at 9 MHz")
    parser.add_argument("--law", choices=tuple(Law), default=Law.LINEAR, help="the detector behind the table")
    parser.add_argument("--lag-s", type=float, default=0.0, help="time constant of the detector behind the table")
    parser.add_argument("--misalignment", type=float, default=1.0, help="0 for a receiver as its maker meant it")
    parser.add_argument("--noise-db", type=float, help="wobble of every level, one sigma (0.05; tables 0)")
    parser.add_argument("--delays", default="", metavar="KEY=S,...", help="seconds: source, meter, counter, exchange")
    parser.add_argument("--troubles", default="", metavar="KEY=NUMBER,...", help=f"of {', '.join(TROUBLES)}")
    parser.add_argument("--late-s", type=float, default=3.0, help="how late a late reply is")
    parser.add_argument("--speed", type=float, default=1.0, help="how many times as fast as real time all goes")
    parser.add_argument("--cold", action="store_true", help="the receiver has just been switched on")
    parser.add_argument("--instant", action="store_true", help="no delay anywhere; the receiver settles at once")
    parser.add_argument("--stepped-time", action="store_true", help="delays are counted but not waited for")
    return parser


if __name__ == "__main__":
    raise SystemExit(main())
