"""A check-up of an installation: what could keep it from working, each with what mends it. Nothing is switched on."""

import os
import platform
import shutil
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, requires, version
from importlib.util import find_spec
from pathlib import Path

from packaging.requirements import Requirement

from server.bench.file import read_bench_file
from server.errors import BenchFileError, StoreError
from server.records.record_file import OTHERS
from server.records.store import Store
from server.settings import default_store_path
from server.wiring import open_bench

OLDEST_PYTHON = (3, 11)
LEAST_FREE_BYTES = 200_000_000
BUSES = {"serial": "serial ports", "usb": "USB instruments", "gpib_ctypes": "GPIB"}
"""Modules that let more instruments be reached; each is an extra, and none is needed for a network."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at."""

    what: str
    well: bool
    text: str


def check_all(bench: Path | None, store: str | None) -> tuple[Finding, ...]:
    """Look at the installation, the record, and the bench where one is named."""
    return (*_installation(), *_record(store), *(() if bench is None else _bench(bench)))


def _installation() -> Iterator[Finding]:
    python = platform.python_version()
    yield Finding(
        "Python", sys.version_info >= OLDEST_PYTHON, f"{python} on {platform.system()}; 3.11 or later is needed"
    )
    yield Finding("Peakwright", True, f"version {version('peakwright')}")
    missing = sorted(_missing_packages())
    mend = f"missing or too old: {', '.join(missing)}; install Peakwright again" if missing else "all there"
    yield Finding("packages", not missing, mend)
    absent = [words for module, words in BUSES.items() if find_spec(module) is None]
    yield Finding("buses", True, f"network; not reached without an extra: {', '.join(absent)}" if absent else "all")


def _missing_packages() -> Iterator[str]:
    for line in requires("peakwright") or ():
        wanted = Requirement(line)
        if wanted.marker is not None and not wanted.marker.evaluate({"extra": ""}):
            continue
        try:
            if not wanted.specifier.contains(version(wanted.name), prereleases=True):
                yield f"{wanted.name} ({version(wanted.name)} is installed, {wanted.specifier} is needed)"
        except PackageNotFoundError:
            yield wanted.name


def _record(where: str | None) -> Iterator[Finding]:
    path = default_store_path("bench") if where is None else where
    if where is None and not Path(path).exists():
        yield Finding("record", True, f"none yet; the first start makes {path}")
        return
    try:
        store = Store(path)
    except StoreError as error:
        yield Finding("record", False, str(error))
        return
    try:
        yield Finding("record", True, f"{store.place.shown}, {len(store.jobs())} jobs")
        marked = store.outputs_marked()
        if marked:
            told = ", ".join(f"{address} since {since}" for address, since in marked)
            yield Finding("output", False, f"may be on: {told}. Switch it off at the instrument, or start the service")
        if store.place.file is not None:
            yield from _file(store.place.file)
    finally:
        store.close()


def _file(file: Path) -> Iterator[Finding]:
    free = shutil.disk_usage(file.parent).free
    yield Finding("disk", free >= LEAST_FREE_BYTES, f"{free / 1e9:.1f} GB free beside the record")
    if os.name == "posix":
        open_to = file.stat().st_mode & OTHERS
        text = f"other users of this machine can read {file}; chmod 600 it" if open_to else "for your eyes only"
        yield Finding("rights", not open_to, text)


def _bench(path: Path) -> Iterator[Finding]:
    try:
        bench_file = read_bench_file(path)
    except BenchFileError as error:
        yield Finding("bench file", False, str(error))
        return
    yield Finding("bench file", True, f"{path} is sound")
    bench = open_bench(bench_file)
    try:
        for card in bench.instruments:
            if card.state == "ready":
                yield Finding(card.role, True, f"{card.identity} at {card.address}")
            else:
                yield Finding(card.role, False, card.detail or f"nothing answers at {card.address}")
    finally:
        off = bench.close()
    if bench_file.source is not None:
        yield Finding("output", off, "confirmed off" if off else "not confirmed off: switch it off at the instrument")
