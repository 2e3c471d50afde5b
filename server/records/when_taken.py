"""How records used to say when a figure was taken: within its name or its place, where now a field of its own does."""

from typing import Any

from sequences.alignment.outcome import Phase

TIMES = (Phase.AS_FOUND.value, Phase.AS_LEFT.value)


def without_when(text: str) -> str:
    """Take what says when a figure was taken out of its name or place: `2 kHz, as found` becomes `2 kHz`."""
    for when in TIMES:
        text = text.replace(f", {when}", "").replace(f" {when}", "").replace(f"{when}, ", "").replace(when, "")
    return text.strip()


def when_in(name: str, where: str) -> str | None:
    """Give when a figure was taken, as its name or place says it."""
    return next((when for when in TIMES if when in name or when in where), None)


def with_when(finding: dict[str, Any]) -> dict[str, Any]:
    """Give a finding of a note with that field, as it is written now."""
    if "when" in finding:
        return finding
    name, where = finding["name"], finding["where"]
    return {**finding, "name": without_when(name), "where": without_when(where), "when": when_in(name, where)}
