"""Where a receiver file contradicts itself. Each contradiction names the two entries and shows the arithmetic."""

from collections.abc import Callable, Iterator, Mapping
from itertools import chain

from sequences.numerics.levels.s_units import falls_back, mark_db
from sequences.receiver.chain import (
    DialSetting,
    conversions_in_order,
    dial_ends,
    frequency_khz,
    oscillator_khz,
    widest_khz,
)
from sequences.receiver.frequency_plan import product_khz
from sequences.receiver.model import SIGNAL, Point, Receiver

CLOSES_WITHIN_KHZ = 1e-3
RATING_FACTOR = 1.5
"""How much more than the supply a blocking capacitor must stand: surges at switch-on. Common practice, no source."""
"""One hertz: far under any tolerance, far over the rounding of the arithmetic."""

Contradictions = Iterator[str]


def contradictions(receiver: Receiver) -> tuple[str, ...]:
    """List every contradiction, one sentence each, in the order the signal meets them."""
    checks: tuple[Callable[[Receiver], Contradictions], ...] = (
        _bands_against_dial,
        _conversions,
        _widths,
        _beat_oscillator,
        _levels,
        _signal_meter,
        _voltages,
    )
    return tuple(chain.from_iterable(check(receiver) for check in checks))


def khz(value: float) -> str:
    """Write a frequency in kHz without needless zeros."""
    return f"{value:.3f}".rstrip("0").rstrip(".") + " kHz"


def _bands_against_dial(receiver: Receiver) -> Contradictions:
    for name in receiver.bands:
        fault = _band_fault(receiver, name)
        if fault is not None:
            yield fault


def _band_fault(receiver: Receiver, name: str) -> str | None:
    band, dial = receiver.bands[name], receiver.controls[receiver.dial.control]
    low, high, span = dial.low or 0.0, dial.high or 0.0, band.high_khz - band.low_khz
    if receiver.dial.reads == "above band edge" and abs(span - (high - low)) > CLOSES_WITHIN_KHZ:
        return (
            f"Band '{name}' is {khz(band.high_khz)} - {khz(band.low_khz)} = {khz(span)} long, but the dial's scale "
            f"is {khz(high)} - {khz(low)} = {khz(high - low)}: "
            f"correct one of band.{name}.high_khz or control.{receiver.dial.control}.high."
        )
    if receiver.dial.reads == "frequency" and not low <= band.low_khz < band.high_khz <= high:
        return (
            f"Band '{name}' runs from {khz(band.low_khz)} to {khz(band.high_khz)}, but the dial's scale runs from "
            f"{khz(low)} to {khz(high)}: correct one of band.{name} or control.{receiver.dial.control}."
        )
    return None


def _conversions(receiver: Receiver) -> Contradictions:
    """A conversion wrong in one way is reported once where the fault is not a band's own.

    A band that does not fit the dial is left out: its ends are not where the oscillators are given.
    """
    bands = [name for name in receiver.bands if _band_fault(receiver, name) is None]
    for key in conversions_in_order(receiver):
        found = [
            fault
            for band in bands
            for setting in dial_ends(receiver, band)
            if (fault := _conversion_at(receiver, key, setting))
        ]
        by_entries = {entries: sentence for sentence, entries in reversed(found)}
        yield from reversed(by_entries.values())


def _conversion_at(receiver: Receiver, key: str, setting: DialSetting) -> tuple[str, str] | None:
    """Give the sentence and the entries to correct, or None where the conversion closes at this dial setting."""
    entry = receiver.conversions[key]
    takes, gives = (frequency_khz(receiver, what, setting) for what in (entry.takes, entry.gives))
    oscillator = oscillator_khz(entry, setting)
    product = product_khz(entry.side, takes, oscillator)
    oscillator_key = _oscillator_key(receiver, key, setting.band)
    where = _where(receiver, key, setting)
    if product <= 0:
        side_key = f"conversion.{key}.side"
        relation = "below" if entry.side == "high" else "above"
        entries = f"{side_key} or {oscillator_key}"
        return (
            f"Conversion '{key}' has its oscillator on the {entry.side} side{where}, but {khz(oscillator)} is "
            f"{relation} the {khz(takes)} it takes in: correct one of {entries}."
        ), entries
    if abs(product - gives) <= CLOSES_WITHIN_KHZ:
        return None
    entries = f"{oscillator_key} or {_if_key(receiver, entry.gives)}"
    return (
        f"Conversion '{key}' gives {_sum(entry.side, takes, oscillator)} = {khz(product)}{where}, but IF "
        f"'{receiver.ifs[entry.gives].name}' is {khz(gives)}: correct one of {entries}."
    ), entries


def _sum(side: str, takes: float, oscillator: float) -> str:
    if side == "sum":
        return f"{khz(takes)} + {khz(oscillator)}"
    return f"{khz(oscillator)} - {khz(takes)}" if side == "high" else f"{khz(takes)} - {khz(oscillator)}"


def _where(receiver: Receiver, key: str, setting: DialSetting) -> str:
    """Say at which setting, but only where it matters: a fixed conversion is the same everywhere."""
    entry = receiver.conversions[key]
    moving = entry.takes == SIGNAL or entry.oscillator_range_khz is not None
    if not (moving or receiver.ifs[entry.takes].range_khz or receiver.ifs[entry.gives].range_khz):
        return ""
    end = "low" if setting.travel < 0.5 else "high"  # noqa: PLR2004 - half way
    return f" at the {end} end of band '{setting.band}'"


def _oscillator_key(receiver: Receiver, key: str, band: str) -> str:
    entry = receiver.conversions[key]
    name = "oscillator_khz" if entry.oscillator_range_khz is None else "oscillator_range_khz"
    by_band = isinstance(getattr(entry, name), Mapping)
    return f"conversion.{key}.{name}" + (f".{band}" if by_band else "")


def _if_key(receiver: Receiver, key: str) -> str:
    return f"if.{key}." + ("centre_khz" if receiver.ifs[key].range_khz is None else "range_khz")


def _widths(receiver: Receiver) -> Contradictions:
    for name, entry in receiver.filters.items():
        whole = widest_khz(receiver.ifs[entry.intermediate])
        if entry.width_khz is not None and entry.width_khz < whole - CLOSES_WITHIN_KHZ:
            yield (
                f"IF '{receiver.ifs[entry.intermediate].name}' is {khz(whole)} wide, but its filter '{name}' alone is "
                f"only {khz(entry.width_khz)}, {khz(whole - entry.width_khz)} less: "
                f"correct one of if.{entry.intermediate}.width_khz or filter.{name}.width_khz."
            )


def _beat_oscillator(receiver: Receiver) -> Contradictions:
    entry = receiver.beat_oscillator
    if entry is None:
        return
    intermediate = receiver.ifs[entry.intermediate]
    if intermediate.centre_khz is None:
        yield (
            f"The beat oscillator stands on {khz(entry.centre_khz)}, but IF '{intermediate.name}' moves with the dial: "
            f"correct one of beat_oscillator.if or if.{entry.intermediate}.range_khz."
        )
        return
    reach = widest_khz(receiver.ifs[entry.intermediate])
    away = abs(entry.centre_khz - intermediate.centre_khz)
    if away > reach:
        yield (
            f"The beat oscillator is {khz(max(entry.centre_khz, intermediate.centre_khz))} - "
            f"{khz(min(entry.centre_khz, intermediate.centre_khz))} = {khz(away)} from IF '{intermediate.name}', "
            f"more than its widest passband of {khz(reach)}: "
            f"correct one of beat_oscillator.centre_khz or if.{entry.intermediate}.centre_khz."
        )


def _levels(receiver: Receiver) -> Contradictions:
    for name, point in receiver.source_points.items():
        over_db = point.level_dbm - point.highest_level_dbm
        if over_db > 0:
            yield (
                f"Source point '{name}' works at {point.level_dbm:g} dBm - {point.highest_level_dbm:g} dBm = "
                f"{over_db:g} dB over its highest level: correct one of source_point.{name}.level_dbm or "
                f"source_point.{name}.highest_level_dbm."
            )


def _signal_meter(receiver: Receiver) -> Contradictions:
    for name, point in receiver.meter_points.items():
        for mark in point.s_marks_v:
            if mark_db(mark) is None:
                yield (
                    f"Meter point '{name}' has a mark '{mark}', but a signal meter's marks are S1 to S9, and S9 with "
                    f"decibels above it such as 'S9+20': correct meter_point.{name}.s_marks_v."
                )
        apart = falls_back(point.s_marks_v)
        if apart is not None:
            yield (
                f"Meter point '{name}' stands at {point.s_marks_v[apart[0]]:g} V on {apart[0]} and at "
                f"{point.s_marks_v[apart[1]]:g} V on {apart[1]}, against the way its other marks go: "
                f"correct meter_point.{name}.s_marks_v."
            )
    if receiver.limits.s9_db is not None and not any("S9" in one.s_marks_v for one in receiver.meter_points.values()):
        yield (
            "A limit is set for S9, but no meter point says at which voltage the signal meter stands on S9: add "
            "s_marks_v to one, or leave out limit.s9_db."
        )


def _voltages(receiver: Receiver) -> Contradictions:
    points: dict[str, Mapping[str, Point]] = {
        "source_point": receiver.source_points,
        "meter_point": receiver.meter_points,
        "counter_point": receiver.counter_points,
    }
    highest = receiver.supply.highest_voltage_v
    for table, entries in points.items():
        for name, point in entries.items():
            key, rating = f"{table}.{name}", point.capacitor_rating_v
            if point.voltage_v > highest:
                yield (
                    f"{key}.voltage_v is {point.voltage_v:g} V, {point.voltage_v - highest:g} V above the supply's "
                    f"highest voltage of {highest:g} V: correct one of {key}.voltage_v or supply.highest_voltage_v."
                )
            if rating is not None and rating < RATING_FACTOR * highest:
                yield (
                    f"The capacitor at {key} is rated {rating:g} V, below {RATING_FACTOR:g} x {highest:g} V = "
                    f"{RATING_FACTOR * highest:g} V for the supply's highest voltage: "
                    f"correct one of {key}.capacitor_rating_v or supply.highest_voltage_v."
                )
