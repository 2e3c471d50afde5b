"""Bands that share adjusters and coils: which band to adjust on, and which band's own part is to be suspected.

A trimmer shared by many bands is set where it counts most, on the highest band. If that very band has a part that
has drifted, all others come out wrong: then the next one is tried. What stays off alone, its siblings being right,
has a part of its own to blame.
"""

from collections.abc import Collection, Mapping, Sequence
from enum import StrEnum


class Blame(StrEnum):
    """What a band that stays off points to."""

    OWN_PART = "a part of this band alone"
    COIL = "the coil it shares"
    ADJUSTMENT = "the adjustment"


def next_reference(order: Sequence[str], tried: Collection[str], right: Mapping[str, bool]) -> str | None:
    """Give the band to adjust on next, or None where no further one promises more.

    Args:
        order: The bands, those on which the adjuster counts most first.
        tried: Those already adjusted on.
        right: For each band whether it is right now; bands that could not be measured are left out.
    """
    if not tried:
        return next((band for band in order if band in right), None)
    others = [band for band in right if band not in tried]
    off = [band for band in others if not right[band]]
    if len(off) <= len(others) / 2:
        return None
    return next((band for band in order if band in off), None)


def blame(band: str, right: Mapping[str, bool], shared_coils: Sequence[Sequence[str]]) -> Blame:
    """Say what a band that is off, after its adjusters were set, points to.

    Args:
        band: The band that is off.
        right: For each band measured whether it is right.
        shared_coils: Groups of bands that share their coils.
    """
    siblings = [one for group in shared_coils if band in group for one in group if one != band and one in right]
    strangers = [one for one in right if one != band and one not in siblings]
    if any(right[one] for one in siblings):
        return Blame.OWN_PART
    if strangers and all(right[one] for one in strangers):
        return Blame.COIL if siblings else Blame.OWN_PART
    return Blame.ADJUSTMENT
