"""One sentence for one failed validation, the same words for a request body and for a file."""

from collections.abc import Mapping
from typing import Any


def expected_value(kind: str, limits: Mapping[str, Any]) -> str | None:
    """Say what a value should have been, as the end of "... must be".

    Args:
        kind: the validator's name for the failure.
        limits: what the validator knows about it.

    Returns:
        The phrase, or None where the failure is of another nature.
    """
    for prefix, phrase in _PHRASES.items():
        if kind.startswith(prefix):
            return phrase.format_map(limits)
    return None


def tell_validation(failure: Mapping[str, Any], *, subject: str, known_keys: str = "") -> str:
    """Say in one sentence what is wrong with a value.

    Args:
        failure: one entry of a pydantic error list.
        subject: what the value is called where it was written, for example `[meter] function`.
        known_keys: the keys that may stand in its place, for a key that is not known.
    """
    kind, limits = str(failure["type"]), failure.get("ctx", {})
    if kind == "missing":
        return f"{subject} is missing."
    if kind == "extra_forbidden":
        return f"{subject} is not a known key; the known keys are {known_keys}."
    expected = expected_value(kind, limits)
    if expected is not None:
        return f"{subject} is {_shown(failure.get('input'))} but must be {expected}."
    if kind == "value_error":
        return f"{subject}: {limits['error']}"
    return f"{subject}: {failure['msg']}."


def _shown(value: object) -> str:
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= LONGEST_SHOWN else text[:LONGEST_SHOWN] + "..."


LONGEST_SHOWN = 60
"""A wrong value is quoted back up to this length, in characters."""

_PHRASES = {
    "literal_error": "one of {expected}",
    "enum": "one of {expected}",
    "float": "a number",
    "finite_number": "a finite number",
    "int": "a whole number",
    "bool": "true or false",
    "string_type": "text",
    "string_too_short": "text that is not empty",
    "string_too_long": "text of at most {max_length} characters",
    "greater_than_equal": "{ge} or more",
    "less_than_equal": "{le} or less",
    "greater_than": "above {gt}",
    "less_than": "below {lt}",
    "model": "a table of keys and values",
    "dict_type": "a table of keys and values",
}
