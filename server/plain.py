"""Values as plain JSON: dataclasses as objects, numbers that are none as null."""

import json
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

from sequences.engine.events import Event

Json = Any
"""What `json.dumps` takes: the typing of JSON is not worth its weight here."""


def to_plain(value: object) -> Json:
    """Turn a value into what JSON can hold.

    Raises:
        TypeError: the value has no JSON form.
    """
    if value is None or (isinstance(value, bool | int | str) and not isinstance(value, Enum)):
        return value
    if isinstance(value, Enum):
        return to_plain(value.value)
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if is_dataclass(value):
        return {field.name: to_plain(getattr(value, field.name)) for field in fields(value)}
    return _container_to_plain(value)


def _container_to_plain(value: object) -> Json:
    if isinstance(value, Mapping):
        return {str(key): to_plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [to_plain(item) for item in value]
    if hasattr(value, "tolist"):  # numpy's arrays and scalars
        return to_plain(value.tolist())
    raise TypeError(f"A {type(value).__name__} has no JSON form.")


def event_to_plain(event: Event) -> dict[str, Json]:
    """Give an event as `{"kind": "ReadingTaken", ...fields}`."""
    return {"kind": type(event).__name__, **to_plain(event)}


def dump(value: object) -> str:
    """Write a value as one line of JSON."""
    return json.dumps(to_plain(value), separators=(",", ":"), ensure_ascii=False, allow_nan=False)
