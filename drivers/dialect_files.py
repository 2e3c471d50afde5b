"""Dialects as TOML: those in this package, and before them those in the user's own folder."""

from __future__ import annotations

import tomllib
from dataclasses import fields, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drivers.dialect import CounterDialect, DialectError, MeterDialect, Model, SourceDialect

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pydantic import ValidationError

PACKAGE_FOLDER = Path(__file__).parent / "dialects"


@cache
def shipped_models() -> tuple[Model, ...]:
    """Give the dialects of this package."""
    return read_folder(PACKAGE_FOLDER)


def known_models(folder: Path | None = None) -> tuple[Model, ...]:
    """Give the dialects of a user's folder, where there is one, and behind them those of this package.

    Raises:
        DialectError: One of the user's files cannot be used; the sentence names file and key.
    """
    own = read_folder(folder) if folder is not None and folder.is_dir() else ()
    return (*own, *shipped_models())


def read_folder(folder: Path) -> tuple[Model, ...]:
    """Read every dialect of a folder, by name."""
    return tuple(read_dialect(path) for path in sorted(folder.glob("*.toml")))


def read_dialect(path: Path) -> Model:
    """Read and check one dialect; the file's name without its ending is the name a bench file calls it by.

    Raises:
        DialectError: It cannot be used; the sentence names file and key.
    """
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise DialectError(f"{path}: the dialect cannot be read ({error.strerror}); check the path.") from error
    except ValueError as error:  # not UTF-8, or not TOML
        raise DialectError(f"{path}: the dialect is not valid TOML ({error}).") from error
    return replace(dialect_from(tables, str(path)), name=path.stem)


def dialect_from(tables: dict[str, Any], where: str) -> Model:
    """Check the tables of a dialect.

    Raises:
        DialectError: They cannot be used; the sentence begins with `where`.
    """
    from pydantic import TypeAdapter, ValidationError  # noqa: PLC0415 - time that `--help` need not pay

    try:
        model: Model = TypeAdapter(Model).validate_python(tables)
    except ValidationError as error:
        raise DialectError(f"{where}: {_sentence(error)}") from error
    if not model.roles:
        raise DialectError(f"{where}: the dialect names no role; add [source], [meter] or [counter].")
    return model


def _sentence(error: ValidationError) -> str:
    failure = error.errors(include_url=False)[0]
    key = ".".join(str(part) for part in failure["loc"])
    if failure["type"] in {"extra_forbidden", "unexpected_keyword_argument"}:
        return f"{key} is not a known key; drivers/dialects/README.md lists them all."
    said = failure["msg"][0].lower() + failure["msg"][1:]
    return f"{key} cannot be used: {said}."


def write_dialect(model: Model) -> str:
    """Write a dialect as TOML, only what differs from plain SCPI-99 and the roles that it names."""
    lines = [f"maker = {_toml(model.maker)}", f"model = {_toml(model.model)}"]
    lines += _table("conversation", model.conversation)
    for role in ("source", "meter", "counter"):
        dialect: SourceDialect | MeterDialect | CounterDialect | None = getattr(model, role)
        if dialect is not None:
            lines += ["", f"[{role}]", *_entries(dialect)]
    return "\n".join(lines) + "\n"


def _table(name: str, table: Any) -> list[str]:  # noqa: ANN401 - any of the dataclasses
    entries = _entries(table)
    return ["", f"[{name}]", *entries] if entries else []


def _entries(table: Any) -> list[str]:  # noqa: ANN401 - any of the dataclasses
    plain = type(table)()
    differing = (one.name for one in fields(table) if getattr(table, one.name) != getattr(plain, one.name))
    return [f"{name} = {_toml(getattr(table, name))}" for name in differing]


def _toml(value: Any) -> str:  # noqa: ANN401 - what the dataclasses hold
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(str(value))
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, (tuple, list)):
        return "[" + ", ".join(_toml(one) for one in value) + "]"
    return _toml({one.name: getattr(value, one.name) for one in fields(value) if getattr(value, one.name) is not None})


def _quoted(text: str) -> str:
    escaped = "".join(
        {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\r": "\\r", "\t": "\\t"}.get(one) or _printable(one) for one in text
    )
    return f'"{escaped}"'


def _printable(character: str) -> str:
    return character if character.isprintable() else f"\\u{ord(character):04x}"


def pick(models: Iterable[Model], name: str) -> Model:
    """Give the dialect of a name.

    Raises:
        DialectError: There is none.
    """
    found = {model.name: model for model in reversed(tuple(models))}
    if name not in found:
        raise DialectError(f"There is no dialect {name!r}; the known ones are {', '.join(sorted(found))}.")
    return found[name]
