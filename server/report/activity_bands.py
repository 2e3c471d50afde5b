"""The bands of a crystal oscillator with the voltage and the activity of each: what paper and page both tabulate."""

from collections.abc import Iterable
from dataclasses import dataclass

from server.report.pairs import Pair
from server.report.words import ACTIVITY

VOLTAGE = "test point voltage"


@dataclass(frozen=True, slots=True)
class BandActivity:
    """One band: its test point's voltage, and that as a level against the reference band; None where not taken."""

    band: str
    volts: Pair | None
    activity: Pair | None


def activity_bands(pairs: Iterable[Pair]) -> tuple[BandActivity, ...]:
    """Put both figures of each band side by side, in the order the bands were measured."""
    kept = tuple(pairs)
    volts = {pair.where: pair for pair in kept if pair.name == VOLTAGE}
    activity = {pair.where: pair for pair in kept if pair.name.startswith(ACTIVITY)}
    bands = dict.fromkeys((*volts, *activity))
    return tuple(BandActivity(band, volts.get(band), activity.get(band)) for band in bands)


def against_name(bands: Iterable[BandActivity]) -> str:
    """Name the activity as the step does, with the band that the others are held against."""
    return next((each.activity.name for each in bands if each.activity is not None), ACTIVITY)
