"""A scan without page, worker or record: instruments named by address, the result as text."""

import sys
from dataclasses import dataclass

from pydantic import ValidationError

from sequences.engine.run import Limits, run
from sequences.errors import SequenceError, Stopped
from sequences.procedures.sweeps.scan import Detector, ScanResult, ScanSettings, scan
from server.bench.file import BY_HAND, BenchFile, MeterEntry, SourceEntry
from server.bench.guarded_bench import GuardedBench, closing_off
from server.bench.guardian import guarded
from server.bench.output_ledger import OutputLedger
from server.bench.run_clock import RunClock
from server.bench.stop_switch import StopSwitch, stop_on_signals
from server.errors import BenchError, ScanError
from server.plain import dump
from server.sentences import tell_validation
from server.sound.roles import is_sound
from server.terminal.asked_lines import AskedLines
from server.terminal.scan_progress import ScanProgress
from server.terminal.scan_text import scan_table
from server.terminal.typed_lines import TypedLines
from server.wiring import open_bench


@dataclass(frozen=True, slots=True)
class HeadlessScan:
    """What the command line asked for. Frequencies in Hz, the level in dBm at the source's own connector."""

    source: str
    meter: str
    start_hz: float
    stop_hz: float
    level_dbm: float
    settle_s: float | None
    detector: str
    readings: int | None
    until_centre_fraction: float | None
    step_hz: float | None = None
    tone_hz: float | None = None


def run_headless(order: HeadlessScan, *, as_json: bool) -> str:
    """Scan, and give the result as a table for people or as one JSON object.

    Raises:
        ServerError: there is no result; the sentence says why. The source's output is off.
    """
    with stop_on_signals() as stop:
        try:
            settings = _settings(order)
            result = _scan(order, settings, stop)
        except Stopped as stopped:
            raise ScanError("The scan was stopped before it had a result.") from stopped
        except SequenceError as error:
            raise ScanError(str(error)) from error
    if result.fit.centre is None:
        raise ScanError(" ".join(result.doubts) or "The readings show no passband in this sweep.")
    return dump(result.figures()) if as_json else scan_table(result)


def _settings(order: HeadlessScan) -> ScanSettings:
    return ScanSettings(
        start_hz=order.start_hz,
        stop_hz=order.stop_hz,
        level_dbm=order.level_dbm,
        settle_s=order.settle_s,
        detector=Detector(order.detector),
        readings=order.readings,
        until_centre_fraction=order.until_centre_fraction,
        by_hand=_is_by_hand(order),
        step_hz=order.step_hz,
        check_step=is_sound(order.meter),
    )


def _is_by_hand(order: HeadlessScan) -> bool:
    return BY_HAND in {order.source, order.meter}


def _scan(order: HeadlessScan, settings: ScanSettings, stop: StopSwitch) -> ScanResult:
    bench_file = _bench_file(order)
    with (
        guarded(bench_file.source) as guardian,
        closing_off(GuardedBench(open_bench(bench_file), OutputLedger(guardian=guardian))) as bench,
    ):
        _require_all(bench)
        with ScanProgress(sys.stderr, questions=_is_by_hand(order)) as progress:
            return run(
                scan(settings),
                bench.bench,
                emit=progress,
                stop=stop,
                clock=RunClock(stop),
                limits=Limits(highest_power_dbm=order.level_dbm),
                name="scan",
                person=AskedLines(sys.stderr, TypedLines(), stop) if _is_by_hand(order) else None,
            )


def _bench_file(order: HeadlessScan) -> BenchFile:
    try:
        return BenchFile(
            source=SourceEntry(address=order.source, ceiling_dbm=order.level_dbm, step_hz=order.step_hz),
            meter=MeterEntry(address=order.meter, tone_hz=order.tone_hz),
        )
    except ValidationError as error:
        failure = error.errors(include_url=False)[0]
        option = {"ceiling_dbm": "--level"}.get(str(failure["loc"][-1]), "an address")
        raise ScanError(tell_validation(failure, subject=option, known_keys="")) from error


def _require_all(bench: GuardedBench) -> None:
    for card in bench.instruments:
        if card.state != "ready":
            raise BenchError(card.detail or f"The {card.role} at {card.address} does not answer.")
