"""What a receiver file says, as the bench reads it: names, places, nominal frequencies and widths. All in hertz."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

Table = Mapping[str, Any]
HZ = 1000.0


@dataclass(frozen=True)
class Paper:
    """A receiver file that has been checked elsewhere."""

    tables: Table

    @property
    def id(self) -> str:
        """Its id."""
        return str(self.tables["id"])

    @property
    def name(self) -> str:
        """What people call it."""
        return str(self.tables["name"])

    def table(self, name: str) -> dict[str, Any]:
        """Give the tables of a kind by name; none where the file has none."""
        return dict(self.tables.get(name, {}))

    @cached_property
    def conversions(self) -> tuple[str, ...]:
        """The mixers in the order the signal meets them."""
        by_input = {entry["takes"]: key for key, entry in self.tables["conversion"].items()}
        path, at = [], "signal"
        while at in by_input:
            path.append(by_input.pop(at))
            at = self.tables["conversion"][path[-1]]["gives"]
        return tuple(path)

    @cached_property
    def ifs(self) -> tuple[str, ...]:
        """The IFs in the order the signal meets them."""
        return tuple(self.conversion(key)["gives"] for key in self.conversions)

    def conversion(self, key: str) -> Table:
        """One mixer's entry."""
        return dict(self.tables["conversion"][key])

    def filters(self, intermediate: str) -> tuple[str, ...]:
        """The filters of an IF in their order."""
        return tuple(name for name, entry in self.table("filter").items() if entry["if"] == intermediate)

    def adjusters(self, moves: str, band: str | None = None) -> tuple[str, ...]:
        """What moves a thing, on one band or on any."""
        return tuple(
            name
            for name, entry in self.table("adjuster").items()
            if entry["moves"] == moves and (band is None or band in entry.get("bands", (band,)))
        )

    def ends_hz(self, band: str) -> tuple[float, float]:
        """The signal at the two ends of a band."""
        entry = self.tables["band"][band]
        return entry["low_khz"] * HZ, entry["high_khz"] * HZ

    def travel(self, band: str, dial_khz: float) -> float:
        """How far the dial has gone, from 0 at the band's low end to 1 at its high end."""
        low, high = self.ends_hz(band)
        base = low if self.tables["dial"]["reads"] == "above band edge" else 0.0
        return (base + dial_khz * HZ - low) / (high - low)

    def signal_hz(self, band: str, travel: float) -> float:
        """The signal there."""
        return between(self.ends_hz(band), travel)

    def if_ends_hz(self, key: str) -> tuple[float, float]:
        """An IF at the two ends of the dial; both alike where it stays."""
        entry = self.tables["if"][key]
        low, high = entry.get("range_khz") or (entry["centre_khz"], entry["centre_khz"])
        return low * HZ, high * HZ

    def oscillator_ends_hz(self, key: str, band: str) -> tuple[float, float]:
        """An oscillator at the two ends of the dial; both alike where it stays."""
        entry = self.conversion(key)
        if entry["oscillator_kind"] == "tunable":
            low, high = for_band(entry["oscillator_range_khz"], band)
            return low * HZ, high * HZ
        stays = for_band(entry["oscillator_khz"], band) * HZ
        return stays, stays

    def width_hz(self, key: str, choice: str | None) -> float:
        """An IF's 3 dB width at a choice of its control."""
        width = self.tables["if"][key]["width_khz"]
        return float(width[choice] if isinstance(width, dict) else width) * HZ

    def widest_hz(self, key: str) -> float:
        """An IF's 3 dB width at its widest."""
        width = self.tables["if"][key]["width_khz"]
        return float(max(width.values()) if isinstance(width, dict) else width) * HZ

    def narrowest_hz(self) -> float:
        """The least width of any IF at its widest."""
        return min(self.widest_hz(key) for key in self.ifs)

    def quality(self, band: str) -> float:
        """The loaded Q of each preselector circuit."""
        return float(for_band(self.tables["preselector"]["loaded_q"], band))

    def limit(self, name: str, otherwise: float) -> float:
        """A limit of the file."""
        return float(self.tables["limit"].get(name, otherwise))

    def tested(self, conversion: str) -> bool:
        """True where a point shows how hard this oscillator runs."""
        points = self.table("meter_point").values()
        return any(point["reads"] == "oscillator activity" and point.get("at") == conversion for point in points)


def read_paper(path: Path) -> Paper:
    """Read a receiver file.

    Raises:
        ValueError: with a sentence that says what is wrong.
    """
    try:
        return Paper(tomllib.loads(path.read_text(encoding="utf-8")))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ValueError(f"The receiver file {path} cannot be read: {error}") from None


def for_band(value: Any, band: str) -> Any:  # noqa: ANN401 - whatever stands there
    """What counts on a band, of an entry that is the same for all or stands in a table by band."""
    return value[band] if isinstance(value, dict) else value


def between(ends: tuple[float, float], share: float) -> float:
    """The value a share of the way from the first end to the second."""
    return ends[0] + (ends[1] - ends[0]) * share
