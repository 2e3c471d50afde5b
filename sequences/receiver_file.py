"""Reading receiver files. A fault is said in one sentence: the file, the key, what is wrong, what is allowed."""

import tomllib
import typing
from importlib import resources
from pathlib import Path

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from sequences.errors import SequenceError
from sequences.receiver import Receiver

_EXPECTED = {
    "float_type": "give a number",
    "int_type": "give a whole number",
    "string_type": "give text in quotes",
    "bool_type": "give true or false",
    "bool_parsing": "give true or false",
    "tuple_type": "give a list in square brackets",
    "dict_type": "give a table",
    "model_type": "give a table",
    "finite_number": "give a finite number",
}


class ReceiverFileError(SequenceError):
    """A receiver file cannot be used. The message is one sentence for the person who wrote the file."""


def read_receiver(path: Path) -> Receiver:
    """Read a receiver file as far as its shape and its references; its arithmetic is not looked at.

    Raises:
        ReceiverFileError: the file is missing, is not TOML, or a key is missing, unknown or out of range.
    """
    return _parse(_text_of(path), path.name)


def load_receiver(path: Path) -> Receiver:
    """Read a receiver file for work.

    Raises:
        ReceiverFileError: as for `read_receiver`.
    """
    return read_receiver(path)


def shipped_receivers() -> tuple[Receiver, ...]:
    """The receivers that come with Peakwright, by name."""
    folder = resources.files("sequences") / "receivers"
    files = sorted((entry for entry in folder.iterdir() if entry.name.endswith(".toml")), key=lambda entry: entry.name)
    return tuple(_parse(entry.read_text(encoding="utf-8"), entry.name) for entry in files)


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise ReceiverFileError(f"There is no receiver file {path}: give the path of a TOML file.") from None
    except UnicodeDecodeError:
        raise ReceiverFileError(f"{path.name} is not UTF-8 text: give a TOML file.") from None
    except OSError as error:
        raise ReceiverFileError(f"{path} cannot be read ({error.strerror}): give the path of a TOML file.") from None


def _parse(text: str, file_name: str) -> Receiver:
    try:
        return Receiver.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise ReceiverFileError(f"{file_name} is not TOML: {str(error).rstrip('.')}.") from None
    except ValidationError as error:
        raise ReceiverFileError(_first_fault(error, file_name)) from None


def _first_fault(error: ValidationError, file_name: str) -> str:
    fault = error.errors(include_url=False)[0]
    return f"{file_name}: {_key(fault['loc'])} {_complaint(fault)}."


def _key(location: tuple[str | int, ...]) -> str:
    return ".".join(str(part) for part in location)


def _complaint(fault: ErrorDetails) -> str:
    kind, context, message = fault["type"], fault.get("ctx", {}), fault["msg"]
    if kind == "missing":
        return "is missing: add it"
    if kind == "extra_forbidden":
        return f"is not a key of this table: use one of {', '.join(_allowed_keys(fault['loc'][:-1]))}"
    if kind == "literal_error":
        return f"is {fault['input']!r}: use {context['expected']}"
    return f"is {fault['input']!r}: {_EXPECTED.get(kind, message[0].lower() + message[1:])}"


def _allowed_keys(location: tuple[str | int, ...]) -> list[str]:
    model: type[BaseModel] = Receiver
    for part in location:
        model = _table_at(model, part) or model
    return sorted(field.alias or name for name, field in model.model_fields.items())


def _table_at(model: type[BaseModel], part: str | int) -> type[BaseModel] | None:
    for name, field in model.model_fields.items():
        if part in (name, field.alias):
            candidates = (field.annotation, *typing.get_args(field.annotation))
            return next((c for c in candidates if isinstance(c, type) and issubclass(c, BaseModel)), None)
    return None
