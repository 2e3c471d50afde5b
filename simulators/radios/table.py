"""A response given as a table, served through the simulated meter as if it were a receiver."""

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType
from typing import Final

import numpy as np

from simulators.physics.agc import ControlledDetector, ControlTimes, GainControl
from simulators.physics.detectors import Carrier, Detector, Diode, SquareLaw
from simulators.physics.ladder import LadderFilter
from simulators.physics.response import Floats, find_response
from simulators.radios.catalogue import Model, Placed
from simulators.radios.chain import Stage, together
from simulators.radios.leads import Lead
from simulators.radios.radio import Conditions, Radio, Sight

_LEAST_ROWS = 2
_COLUMNS = ("frequency_hz", "level_db")


class Law(StrEnum):
    """How the meter's voltage follows the level of the table."""

    LINEAR = "linear"
    SQUARE = "square"
    AGC = "agc"


_CONTROL: Final = GainControl(delay_volts=0.0, volts_per_volt=1.0, ceiling_volts=30.0, db_per_volt=5.0, softening=0.04)
_AGC_GAIN: Final = 2000.0


@dataclass(frozen=True, slots=True)
class ResponseTable:
    """Levels in dB at rising frequencies in Hz, both of shape (n,)."""

    frequency_hz: Floats
    level_db: Floats

    def gain(self, frequency_hz: Floats) -> Floats:
        """Voltage gain at these frequencies, interpolated in dB; beyond its ends the table's end values hold."""
        level_db = np.interp(frequency_hz, self.frequency_hz, self.level_db)
        gains: Floats = 10 ** (level_db / 20)
        return gains


def read_table(path: Path) -> ResponseTable:
    """Read a table from a CSV file with the columns frequency_hz and level_db.

    Raises:
        ValueError: with a sentence that says what is wrong with the file.
    """
    try:
        with path.open(newline="") as file:
            rows = list(csv.DictReader(file))
    except OSError as error:
        raise ValueError(f"The table {path} cannot be read: {error.strerror}.") from None
    try:
        values = np.array([[float(row[column]) for column in _COLUMNS] for row in rows])
    except (KeyError, TypeError, ValueError):
        raise ValueError(f"The table {path} must have the columns frequency_hz and level_db, all numbers.") from None
    if len(values) < _LEAST_ROWS or not np.isfinite(values).all():
        raise ValueError(f"The table {path} must have two rows or more, all of them finite numbers.")
    values = values[np.argsort(values[:, 0])]
    if (np.diff(values[:, 0]) <= 0.0).any():
        raise ValueError(f"The table {path} names a frequency twice; each may stand there once.")
    return ResponseTable(values[:, 0], values[:, 1])


def ladder_table() -> ResponseTable:
    """The response of a four-crystal ladder filter, in steps of 5 Hz."""
    ladder = LadderFilter()
    frequency_hz = np.arange(ladder.series_hz - 5e3, ladder.series_hz + 8e3, 5.0)
    return ResponseTable(frequency_hz, 20 * np.log10(ladder.gain(frequency_hz)))


class TableRadio(Radio):
    """A table between the source and a detector. The carrier is the source's voltage in 50 ohms times the table."""

    id = "table"
    name = "Response table"
    source_points = ("input",)
    meter_points = ("detector",)
    counter_points = ()
    first_leads = MappingProxyType({"source": "input", "meter": "detector"})
    control_law = _CONTROL
    control_line_ohm = 0.0

    def __init__(self, table: ResponseTable, law: Law, lag_s: float, conditions: Conditions) -> None:
        super().__init__([], [], conditions)
        self.table = table
        self.detector = _detector(law)
        self.detector_lag_s = lag_s
        self._gain = _AGC_GAIN if law is Law.AGC else 1.0

    def work_out_carrier(self) -> Carrier:
        """Weigh the source's voltage by the table."""
        if self.signal is None or self.source_lead.to is None:
            return Carrier(0.0, 0.0, 1.0)
        frequency_hz = np.array([self.signal.frequency_hz])
        volts = together([(self.signal.frequency_hz, self.signal.emf_volts() / 2)])
        return Carrier(volts * self._gain * float(self.table.gain(frequency_hz)[0]), 0.0, 1.0)

    def tell(self, _meter_point: str | None) -> dict[str, object]:
        """Tell where the table peaks and where it has its edges."""
        ends = float(self.table.frequency_hz[0]), float(self.table.frequency_hz[-1])
        found = find_response(self.table.gain, *ends)
        return {"receiver": self.id, "controls": {}, "faults": [], "scan": found.as_json()}

    def after_turn(self, name: str, moved: float) -> None:
        """Nothing turns here."""

    def control_times(self) -> ControlTimes | None:
        """The law of the detector has everything in it already."""
        return None

    def drifted(self, since_s: float) -> bool:
        """A table stays as it is."""
        del since_s
        return False

    def make_stages(self, point: str) -> list[Stage]:
        """There is nothing between input and detector but the table."""
        del point
        return []

    def other_sight(self, point: str) -> Sight:
        """There is no other point."""
        del point
        return Sight(0.0, 0.0)

    def count(self, lead: Lead) -> float | None:
        """There is nothing to count."""
        del lead
        return None


def _detector(law: Law) -> Detector:
    if law is Law.LINEAR:
        return Diode(knee_volts=0.0, ceiling_volts=math.inf)
    if law is Law.SQUARE:
        return SquareLaw(volts_at_one=1.0)
    return ControlledDetector(_CONTROL)


def table_model(table: ResponseTable, law: Law, lag_s: float) -> Mapping[str, Model]:
    """Make a bench's only model of a table."""

    def make(_draw: object, conditions: Conditions) -> Placed:
        radio = TableRadio(table, law, lag_s, conditions)
        return Placed(radio, radio.tell)

    return {TableRadio.id: Model(TableRadio.name, make)}
