"""Receiver files for tests: the two that are shipped, as text and as tables, and made-up ones of any number of IFs."""

import copy
import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from sequences.kinds import alignment_plan
from sequences.receiver.file import shipped_receivers
from sequences.receiver.model import Receiver

Tables = dict[str, Any]


def shipped(receiver_id: str) -> Receiver:
    """Give a shipped receiver by its id."""
    return {receiver.id: receiver for receiver in shipped_receivers()}[receiver_id]


def step_count(receiver_id: str) -> int:
    """Count the steps of a shipped receiver's plan, which each new kind of step adds to."""
    return len(alignment_plan(shipped(receiver_id)).steps)


def shipped_text(receiver_id: str) -> str:
    """Give the text of a shipped file."""
    return (resources.files("sequences") / "receivers" / f"{receiver_id}.toml").read_text(encoding="utf-8")


def shipped_tables(receiver_id: str) -> Tables:
    """Give a shipped file as tables, to be changed freely."""
    return tomllib.loads(shipped_text(receiver_id))


def edited(receiver_id: str, edits: list[tuple[str, str]], folder: Path) -> Path:
    """Write a shipped file with pieces of text replaced; each piece must be there."""
    text = shipped_text(receiver_id)
    for before, after in edits:
        assert before in text, before
        text = text.replace(before, after, 1)
    path = folder / "receiver.toml"
    path.write_text(text, encoding="utf-8")
    return path


def put(tables: Tables, path: str, value: object) -> Tables:
    """Give a copy with one key, written as a path with slashes, set to a value."""
    changed = copy.deepcopy(tables)
    *above, last = path.split("/")
    place = changed
    for part in above:
        place = place[part]
    place[last] = value
    return changed


_POINT = {"coupling": "direct", "through": "a screened lead"}
_LIMITS = {
    "drift_hz_per_minute": 10.0,
    "longest_warm_up_minutes": 30.0,
    "oscillator_hz": 50.0,
    "beat_oscillator_hz": 20.0,
    "passband_centre_percent": 5.0,
    "passband_width_percent": 20.0,
    "passband_skew_db": 2.0,
    "can_gain_db": 0.5,
    "peak_gain_db": 0.5,
    "dial_khz": 2.0,
    "activity_below_reference_db": 6.0,
    "preselector_centre_percent": 20.0,
    "preselector_gain_db": 1.0,
    "passband_symmetry_hz": 50.0,
}
SIGNAL_KHZ = (7000.0, 7300.0)


def made_up(
    ifs_khz: list[float],
    sides: list[str],
    *,
    widths_khz: list[float] | None = None,
    filters_in: list[int] | None = None,
    with_beat_oscillator: bool = False,
    tunable: int = 0,
) -> Tables:
    """Make up a one-band receiver for 7000 to 7300 kHz whose frequency plan closes.

    Args:
        ifs_khz: the fixed IFs, first IF first.
        sides: the side of injection of each conversion, as the file writes it.
        widths_khz: the 3 dB width of each IF.
        filters_in: how many cans stand in each IF.
        with_beat_oscillator: whether there is a beat oscillator, with its control and its passband control.
        tunable: which conversion has the tunable oscillator; it must be the first, since the IFs are fixed.
    """
    count = len(ifs_khz)
    widths = widths_khz or [5.0] * count
    cans = filters_in or [1] * count
    names = [f"if{place}" for place in range(count)]
    tables: Tables = {
        "id": "made-up",
        "name": "Made-up",
        "description": "A receiver made up for a test.",
        "supply": {"kind": "battery", "highest_voltage_v": 9.0},
        "control": {"dial": {"low": SIGNAL_KHZ[0], "high": SIGNAL_KHZ[1]}},
        "band": {"only": {"low_khz": SIGNAL_KHZ[0], "high_khz": SIGNAL_KHZ[1]}},
        "dial": {"control": "dial", "reads": "frequency", "marks_khz": [7000.0, 7150.0, 7300.0]},
        "conversion": {},
        "if": {
            name: {"name": f"IF {place}", "centre_khz": ifs_khz[place], "width_khz": widths[place]}
            for place, name in enumerate(names)
        },
        "filter": {
            f"can {place}.{number}": {"if": name, "kind": "double-tuned can", "circuits": 2}
            for place, name in enumerate(names)
            for number in range(cans[place])
        },
        "preselector": {"name": "preselector", "circuits": 1, "loaded_q": 60.0, "tuned_by": "gang"},
        "adjuster": {"dial pointer": {"kind": "dial pointer", "moves": "dial"}},
        "source_point": {"antenna": {**_POINT, "enters": ["signal"], "level_dbm": -50.0, "highest_level_dbm": -10.0}},
        "meter_point": {"detector": {**_POINT, "reads": "detector", "settle_s": 0.1}},
        "counter_point": {"audio": {**_POINT, "counts": "audio"}},
        "limit": dict(_LIMITS),
    }
    for place, name in enumerate(names):
        taken = "signal" if place == 0 else names[place - 1]
        tables["conversion"][f"c{place}"] = {
            "takes": taken,
            "gives": name,
            "oscillator": f"oscillator {place}",
            "side": sides[place],
            **_oscillator(place, tunable, ifs_khz, sides[place]),
        }
        tables["source_point"][f"mixer {place}"] = {
            **_POINT,
            "enters": [taken, name],
            "level_dbm": -50.0,
            "highest_level_dbm": -10.0,
        }
    for key in tables["filter"]:
        tables["adjuster"][f"{key} slug"] = {"kind": "slug", "moves": f"filter.{key}"}
    if with_beat_oscillator:
        tables["control"] |= {"beat": {"choices": ["off", "on"]}, "passband": {"low": -1.0, "high": 1.0}}
        tables["beat_oscillator"] = {"centre_khz": ifs_khz[-1], "if": names[-1], "control": "beat"}
        tables["passband_control"] = {"control": "passband", "if": names[-1], "shift_khz": 1.0}
    return tables


def _oscillator(place: int, tunable: int, ifs_khz: list[float], side: str) -> Tables:
    def reading(taken_khz: float) -> float:
        return {
            "high": taken_khz + ifs_khz[place],
            "low": taken_khz - ifs_khz[place],
            "sum": ifs_khz[place] - taken_khz,
        }[side]

    if place == tunable:
        return {"oscillator_kind": "tunable", "oscillator_range_khz": [reading(khz) for khz in SIGNAL_KHZ]}
    return {"oscillator_kind": "fixed", "oscillator_khz": reading(ifs_khz[place - 1])}


@st.composite
def made_up_receivers(draw: st.DrawFn) -> Receiver:
    """Draw a receiver of one to four conversions, with or without beat oscillator, access points and adjusters."""
    count = draw(st.integers(1, 4))
    ifs_khz = draw(st.lists(st.floats(20.0, 6000.0).map(lambda khz: round(khz, 1)), min_size=count, max_size=count))
    taken = [SIGNAL_KHZ[0], *ifs_khz[:-1]]
    sides = [
        draw(
            st.sampled_from(["high", "low"] if got > made + 1.0 else ["high", "sum"] if made > got + 1.0 else ["high"])
        )
        for got, made in zip(taken, ifs_khz, strict=True)
    ]
    tables = made_up(
        ifs_khz,
        sides,
        widths_khz=draw(st.lists(st.sampled_from([0.5, 2.0, 5.0, 9.0]), min_size=count, max_size=count)),
        filters_in=draw(st.lists(st.integers(0, 3), min_size=count, max_size=count)),
        with_beat_oscillator=draw(st.booleans()),
    )
    for table in ("source_point", "adjuster"):
        for key in list(tables[table]):
            if key not in {"antenna", "dial pointer"} and draw(st.integers(0, 4)) == 0:
                del tables[table][key]
    for adjuster in tables["adjuster"].values():
        adjuster["factory_only"] = draw(st.integers(0, 5)) == 0
    return Receiver.model_validate(tables)


def without(tables: Tables, path: str) -> Tables:
    """Give a copy without one key."""
    changed = copy.deepcopy(tables)
    *above, last = path.split("/")
    place = changed
    for part in above:
        place = place[part]
    del place[last]
    return changed
