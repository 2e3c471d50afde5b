"""Times of day on paper."""

from datetime import UTC, datetime


def say_time(at: datetime) -> str:
    """Write a time of day: 25 November 2026, 12:40 UTC."""
    at = at.astimezone(UTC)
    return f"{say_date(at)}, {at:%H:%M} UTC"


def say_date(at: datetime) -> str:
    """Write a date: 25 November 2026."""
    return f"{at.day} {MONTHS[at.month - 1]} {at.year}"


MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
"""Not by `strftime`, which speaks the language of the machine."""
