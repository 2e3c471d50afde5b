"""A recorded run as the API shows it."""

from typing import Any

from server.records.database import Row

VALUE_FIELDS = {"value_v": "V", "value_hz": "Hz"}
"""Where a value stands by its unit: a meter's is a voltage, a counter's a frequency."""

READING_FIELDS = (
    "index",
    "time_s",
    "role",
    "frequency_hz",
    "power_dbm",
    *VALUE_FIELDS,
    "mark",
    "purpose",
    "level_db",
    "used",
)
RUN_FIELDS = (
    "id",
    "started_utc",
    "ended_utc",
    "mode",
    "target",
    "target_name",
    "receiver",
    "ending",
    "ending_text",
    "output_off",
    "settings",
    "instruments",
    "job_id",
    "step_id",
    "phase",
    "way",
)
SUMMARY_FIELDS = (
    "id",
    "started_utc",
    "mode",
    "target",
    "target_name",
    "receiver",
    "ending",
    "centre_hz",
    "centre_sigma_hz",
    "width_3db_hz",
    "readings",
    "settings",
)


def scan_summary(run: Row) -> dict[str, Any]:
    """Give a run as one line of the list."""
    return {name: run[name] for name in SUMMARY_FIELDS}


def scan_view(run: Row) -> dict[str, Any]:
    """Give a run with its readings, its notices and its result."""
    return {
        **{name: run[name] for name in RUN_FIELDS},
        "readings": [reading_view(reading) for reading in run["readings"]],
        "notices": [event["text"] for event in run["events"] if event["kind"] == "Notice"],
        "result": run["result"],
        "curves": _curves(run),
    }


def _curves(run: Row) -> list[dict[str, Any]]:
    """Give each whole sweep of a run: its figures, and the indexes of the first and the last reading it rests on."""
    fitted = [event for event in run["events"] if event["kind"] == "CurveFitted"]
    curves = []
    begin = 0
    for event in fitted:
        indexes = [reading["index"] for reading in run["readings"] if begin <= reading["seq"] < event["seq"]]
        if indexes:
            curves.append({"figures": event["figures"], "first_index": min(indexes), "last_index": max(indexes)})
        begin = event["seq"]
    return curves


def reading_view(reading: Row) -> dict[str, Any]:
    """Give one reading, its value named by its unit; the value of a counter is no voltage."""
    values = {name: reading["value"] if reading["unit"] == unit else None for name, unit in VALUE_FIELDS.items()}
    return {name: values[name] if name in values else reading[name] for name in READING_FIELDS}
