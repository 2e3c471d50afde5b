"""A recorded run, a scan or one of a step, as files: CSV for a spreadsheet, JSON with everything.

Not as a Touchstone file. That format holds complex network parameters between ports of a stated resistance, and what is
measured here is a voltage behind a detector: no phase, no matched port at either end, and a level relative to itself
alone. A file with invented angles and reflections would be taken for a measurement by every program that reads it.
"""

import csv
import io
import json
from typing import Any

from server.api.scan_views import READING_FIELDS, reading_view, scan_view
from server.records.database import Row

CSV_SETTINGS = (
    "start_hz",
    "stop_hz",
    "level_dbm",
    "settle_s",
    "detector",
    "readings",
    "until_centre_percent",
    "loss_db",
)
FORMAT = {"format": "peakwright scan", "format_version": 1}


def scan_csv(run: Row) -> str:
    """Write the readings as RFC 4180 CSV: one header line, units in its names, then one row a reading.

    What holds for the whole run is repeated on each row. So the table opens in a spreadsheet as it is, and several
    runs put one below the other stay apart. `time_s` counts from `started_utc`; a value stands under its own unit.
    """
    constants = _constants(run)
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([*READING_FIELDS, *constants])
    for reading in run["readings"]:
        row = [*reading_view(reading).values(), *constants.values()]
        writer.writerow([_cell(value) for value in row])
    return text.getvalue()


def scan_json(run: Row) -> str:
    """Write the whole scan as JSON."""
    return json.dumps({**FORMAT, **scan_view(run)}, indent=1, ensure_ascii=False, allow_nan=False)


def file_stem(run: Row) -> str:
    """Name the file by day, target and number, in letters every file system takes."""
    return f"{run['started_utc'][:10]}-{run['target']}-scan-{run['id']}"


def _constants(run: Row) -> dict[str, Any]:
    settings = {f"setting_{name}": run["settings"].get(name) for name in CSV_SETTINGS}
    instruments = {entry["role"]: entry["identity"] for entry in run["instruments"]}
    return {
        "scan": run["id"],
        "started_utc": run["started_utc"],
        "ended_utc": run["ended_utc"],
        "job": run["job_id"],
        "step": run["step_id"],
        "phase": run["phase"],
        "way": run["way"],
        "receiver": run["receiver"],
        "target": run["target_name"],
        "ending": run["ending"],
        **settings,
        **{f"{role}_identity": instruments.get(role) for role in ("source", "meter", "counter")},
    }


def _cell(value: object) -> object:
    """Keep a spreadsheet from taking text for a formula: an instrument's or a file's words are not ours to trust."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str) and value.startswith(("=", "+", "-", "@", "\t", "\r")):
        return f"'{value}"
    return value
