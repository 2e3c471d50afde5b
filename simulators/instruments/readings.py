"""What multimeter and counter share: taking readings on command, keeping them, handing them out."""

from abc import abstractmethod

from simulators.scpi.device import Command, Device, scientific
from simulators.scpi.errors import ScpiError
from simulators.scpi.parameters import PLAIN, Numeric

OVERLOAD = 9.9e37
NOT_A_NUMBER = 9.91e37
_COUNT = Numeric(1, 10_000, 1, PLAIN)


class ReadingDevice(Device):
    """An instrument that takes readings: READ?, INITiate and FETCh?, and how many at a time."""

    _kept: list[float]
    _count = 1

    @abstractmethod
    def take_reading(self) -> float:
        """Take one reading; this lasts as long as the instrument needs."""

    def add_reading_commands(self) -> None:
        """Enter the commands."""
        self._kept = []
        self.add("READ", Command(ask=self._read))
        self.add("INITiate[:IMMediate]", Command(self._initiate))
        self.add("FETCh", Command(ask=self._fetch))
        self.add("ABORt", Command(self.forget))
        self.add_setting("SAMPle:COUNt", _COUNT, lambda: float(self._count), self._set_count)

    def forget(self) -> None:
        """Throw away what was read: the settings it was read with are no longer these."""
        self._kept = []

    def reset_readings(self) -> None:
        """Back to one reading at a time, with none kept."""
        self._count = 1
        self.forget()

    def measure(self) -> str:
        """Take the readings and give them, as `READ?` does."""
        return self._read()

    def _set_count(self, count: float) -> None:
        self._count = round(count)

    def _initiate(self) -> None:
        self._kept = [self.take_reading() for _ in range(self._count)]

    def _fetch(self) -> str:
        if not self._kept:
            raise ScpiError(-230)
        return ",".join(scientific(reading) for reading in self._kept)

    def _read(self) -> str:
        self._initiate()
        return self._fetch()
