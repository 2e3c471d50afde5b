"""The spur chart as tables: what else the receiver will hear, told before anything is measured."""

from collections.abc import Iterator

from sequences.plan.text_table import TextTable
from sequences.receiver.chain import mid_band
from sequences.receiver.contradictions import khz
from sequences.receiver.model import SIGNAL, Receiver
from sequences.receiver.spurs import RESPONSE_ORDER, WHISTLE_ORDER, Response, Whistle, spurious_responses, whistles

MOST_A_BAND = 6
"""Responses shown for each band: those that the receiver's circuits weaken least."""

NEGLIGIBLE_DB = 100.0


def spur_tables(receiver: Receiver) -> tuple[TextTable, TextTable]:
    """Work out both tables of the spur chart."""
    return response_table(receiver), whistle_table(receiver)


def response_table(receiver: Receiver) -> TextTable:
    """Show for the middle of each band which stations off the signal come through, the least weakened first."""
    rows = tuple(_response_row(receiver, band, one) for band in receiver.bands for one in _worst(receiver, band))
    title = f"Spurious responses in the middle of each band, kHz, up to order {RESPONSE_ORDER}"
    note = (
        f"The {MOST_A_BAND} a band that the circuits before the mixer weaken least, none by more than "
        f"{NEGLIGIBLE_DB:g} dB. A product of a signal's m-th power loses m times what the circuits take off; "
        "the mixer itself weakens each higher order more."
    )
    columns = ("band", "signal", "heard at", "response", "product", "order", "circuits take off")
    return TextTable(title, columns, rows, note)


def whistle_table(receiver: Receiver) -> TextTable:
    """Show where on the dial the receiver's own frequencies may be heard."""
    rows = tuple(_whistle_row(receiver, one) for band in receiver.bands for one in whistles(receiver, band))
    title = f"Whistles of the receiver's own oscillators, kHz, up to order {WHISTLE_ORDER}"
    note = (
        "Where they could be, by arithmetic: how loud they are depends on screening. A signal there beats with its own "
        "IF's harmonic."
    )
    return TextTable(title, ("band", "dial", "product", "falls on", "order"), rows, note if rows else "None expected.")


def _worst(receiver: Receiver, band: str) -> Iterator[Response]:
    found = spurious_responses(receiver, mid_band(receiver, band))
    yield from [one for one in found if one.weakened_db <= NEGLIGIBLE_DB][:MOST_A_BAND]


def _response_row(receiver: Receiver, band: str, one: Response) -> tuple[str, ...]:
    oscillator = receiver.conversions[one.conversion].oscillator
    takes = receiver.conversions[one.conversion].takes
    what = "signal" if takes == SIGNAL else receiver.ifs[takes].name
    made = f"{_times(one.signal_harmonic)}{what}"
    if one.oscillator_harmonic:
        made += f" with {_times(one.oscillator_harmonic)}{oscillator}"
    off = f"{one.weakened_db:.0f} dB"
    return (
        band,
        _bare(mid_band(receiver, band).signal_khz),
        _bare(one.antenna_khz),
        one.name,
        made,
        str(one.order),
        off,
    )


def _whistle_row(receiver: Receiver, one: Whistle) -> tuple[str, ...]:
    product = _times(one.first[0]) + one.first[1]
    if one.second is not None:
        times, name = one.second
        product += f" {'+' if times > 0 else '-'} {_times(abs(times))}{name}"
    dial = "everywhere" if one.at is None else _bare(one.at.dial_khz)
    falls_on = SIGNAL if one.falls_on == SIGNAL else receiver.ifs[one.falls_on].name
    return one.band, dial, product, falls_on, str(one.order)


def _times(count: int) -> str:
    return "" if count == 1 else f"{count} x "


def _bare(value_khz: float) -> str:
    return khz(round(value_khz, 2)).removesuffix(" kHz")
