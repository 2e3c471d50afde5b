"""The keys a receiver file may have, table by table, and what each may hold, for sentences and for the page."""

import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from sequences.receiver.model import Receiver


@dataclass(frozen=True, slots=True)
class Key:
    """One key of one table. `table` is empty for the file's own keys; NAME stands for the person's own name."""

    table: str
    name: str
    allowed: str
    required: bool


def receiver_keys() -> tuple[Key, ...]:
    """List every key of a receiver file that holds a value, table by table."""
    return tuple(_keys_of(Receiver, ""))


def table_at(model: type[BaseModel], key: str) -> type[BaseModel] | None:
    """Give the model of the table under a key, of a plain table or of one table among several by name."""
    field = field_at(model, key)
    return None if field is None else _table_of(field)


def field_at(model: type[BaseModel], key: str) -> FieldInfo | None:
    """Give the field that a key of the file stands for."""
    return {(field.alias or name): field for name, field in model.model_fields.items()}.get(key)


def allowed_values(field: FieldInfo) -> str:
    """Say in words what a key may hold."""
    choices = _choices(field.annotation)
    if choices:
        quoted = [f"'{choice}'" for choice in choices]
        return f"{', '.join(quoted[:-1])} or {quoted[-1]}"
    return field.description or _described(field.annotation) or "a table"


def _keys_of(model: type[BaseModel], table: str) -> Iterator[Key]:
    inner: list[tuple[str, type[BaseModel]]] = []
    for name, field in model.model_fields.items():
        key = field.alias or name
        below = _table_of(field)
        if below is None:
            yield Key(table, key, allowed_values(field), field.is_required())
        else:
            inner.append((f"{key}.NAME" if _is_mapping(field) else key, below))
    for key, below in inner:
        yield from _keys_of(below, key)


def _parts(annotation: object) -> Iterator[object]:
    """Give an annotation, the metadata pydantic hangs on it, and all it is made of."""
    yield annotation
    yield from getattr(annotation, "__metadata__", ())
    for part in typing.get_args(annotation):
        yield from _parts(part)


def _table_of(field: FieldInfo) -> type[BaseModel] | None:
    for part in _parts(field.annotation):
        if isinstance(part, type) and issubclass(part, BaseModel):
            return part
    return None


def _is_mapping(field: FieldInfo) -> bool:
    return any(typing.get_origin(part) in {dict, Mapping} for part in _parts(field.annotation))


def _choices(annotation: object) -> tuple[str, ...]:
    for part in _parts(annotation):
        if typing.get_origin(part) is typing.Literal:
            return tuple(str(choice) for choice in typing.get_args(part))
    return ()


def _described(annotation: object) -> str | None:
    return next(
        (part.description for part in _parts(annotation) if isinstance(part, FieldInfo) and part.description), None
    )
