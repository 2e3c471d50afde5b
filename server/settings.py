"""What one start of the service is told: where to listen, what to keep where, which bench, which receivers."""

import ipaddress
from pathlib import Path
from typing import Literal

from platformdirs import user_data_path
from pydantic import BaseModel, ConfigDict, Field

from server.bench.file import BenchFile
from server.bench.pulse import LONGEST_GAP_S

Mode = Literal["practice", "bench"]


class Settings(BaseModel):
    """Everything the service is started with. Nothing is read from the environment."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    mode: Mode
    bench_file: BenchFile
    store_path: Path | str
    """Where the record is: a path, or the URL of a database."""
    host: str = "127.0.0.1"
    port: int = Field(default=0, ge=0, le=65535)
    """0 takes any that is free."""
    token: str | None = None
    """Asked of every request. Always set where others can reach the service."""
    certificate: Path | None = None
    key: Path | None = None
    """For HTTPS, as PEM: the certificate with its chain, and its key; None for plain HTTP."""
    log_level: str = "warning"
    receiver_files: tuple[Path, ...] = ()
    speed: float = Field(default=1.0, gt=0)
    """How many times as fast as real time a practice bench goes."""
    operator_patience_s: float = Field(default=10.0, gt=0)
    """How long the operating page may be gone before its run is stopped."""
    longest_gap_s: float = Field(default=LONGEST_GAP_S, gt=0)
    """How long the program may stand still, suspended or stopped, before a run that was on is stopped."""


def default_store_path(mode: Mode) -> Path:
    """Give the record's usual place. Practice keeps its own, so that it never mixes with real measurements."""
    return user_data_path("peakwright") / ("practice.sqlite" if mode == "practice" else "bench.sqlite")


def is_loopback(host: str) -> bool:
    """Tell whether only this machine can reach a service that listens on `host`."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
