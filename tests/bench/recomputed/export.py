"""The runs of an exported job, read with the standard library."""

import csv
import io
import json
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any


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
