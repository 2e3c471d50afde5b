"""Bands that share adjusters and coils: which band to adjust on, and which band's own part is to be suspected.

A trimmer shared by many bands is set where it counts most, on the highest band. If that very band has a part that
has drifted, its siblings come out wrong: then the next one is tried, and the one on which most bands are right is
kept. What stays off alone, its siblings being right, has a part of its own to blame.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum


class Blame(StrEnum):
    """What a band that stays off points to."""

    OWN_PART = "a part of this band alone"
    COIL = "the coil it shares"
    ADJUSTMENT = "the adjustment"


@dataclass(frozen=True, slots=True)
class Adjusted:
    """A band the shared adjusters were set on, and which bands were right then."""

    band: str
    right: Mapping[str, bool]

    @property
    def count(self) -> int:
        """How many bands were right."""
        return sum(self.right.values())


def next_reference(
    order: Sequence[str],
    history: Sequence[Adjusted],
    measured: Collection[str],
    shared_coils: Sequence[Sequence[str]] = (),
) -> str | None:
    """Give the band to adjust on next, or None where the adjusters may stay as they are.

    Args:
        order: The bands, those on which the adjusters count most first.
        history: The bands adjusted on so far, in turn.
        measured: The bands that could be measured.
        shared_coils: Groups of bands that share their coils: those that show most alike what the adjusters do.
    """
    if not history:
        return next((band for band in order if band in measured), None)
    last, tried = history[-1], [each.band for each in history]
    if last.band in tried[:-1]:
        return None
    others = _siblings(last.band, last.right, shared_coils) or [band for band in last.right if band != last.band]
    off = [band for band in others if not last.right[band]]
    if len(off) > len(others) / 2:
        untried = next((band for band in order if band in off and band not in tried), None)
        if untried is not None:
            return untried
    best = max(history, key=lambda each: each.count)
    return None if best.count <= last.count else best.band


def _siblings(band: str, right: Mapping[str, bool], shared_coils: Sequence[Sequence[str]]) -> list[str]:
    return [one for group in shared_coils if band in group for one in group if one != band and one in right]


def blame(band: str, right: Mapping[str, bool], shared_coils: Sequence[Sequence[str]]) -> Blame:
    """Say what a band that is off, after its adjusters were set, points to.

    Args:
        band: The band that is off.
        right: For each band measured whether it is right.
        shared_coils: Groups of bands that share their coils.
    """
    siblings = _siblings(band, right, shared_coils)
    strangers = [one for one in right if one != band and one not in siblings]
    if any(right[one] for one in siblings):
        return Blame.OWN_PART
    if strangers and all(right[one] for one in strangers):
        return Blame.COIL if siblings else Blame.OWN_PART
    return Blame.ADJUSTMENT
