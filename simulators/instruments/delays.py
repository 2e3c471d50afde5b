"""How long the instruments take."""

import math
from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Delays:
    """Seconds each kind of command takes. A reading time of None follows from the meter's or counter's own settings.

    Attributes:
        source: settling after a change of frequency, power or output; `*OPC?` waits for it.
        meter: one reading; None takes power-line cycles and an overhead.
        counter: one reading; None takes the gate and an overhead.
        exchange: every message, on every instrument.
    """

    source: float = 0.005
    meter: float | None = None
    counter: float | None = None
    exchange: float = 0.0

    @classmethod
    def none(cls) -> "Delays":
        """Instruments that answer at once."""
        return cls(0.0, 0.0, 0.0, 0.0)

    @classmethod
    def parse(cls, text: str) -> "Delays":
        """Read `source=0.002,meter=0.1`.

        Raises:
            ValueError: a key that is none of these, or a value that is no number of seconds.
        """
        known = [field.name for field in fields(cls)]
        values: dict[str, float] = {}
        for part in filter(None, text.split(",")):
            key, _, value = part.partition("=")
            if key.strip() not in known:
                raise ValueError(f"--delays has no key {key.strip()!r}; it takes {', '.join(known)}.")
            values[key.strip()] = _seconds(key.strip(), value)
        return cls(**values)


def _seconds(key: str, text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0.0 <= seconds < math.inf:
        raise ValueError(f"--delays {key} must be a number of seconds, not {text!r}.")
    return seconds
