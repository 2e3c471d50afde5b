"""Reading receiver files. A fault is said in one sentence: the file, the key, what is wrong, what is allowed."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from sequences.errors import SequenceError
from sequences.receiver.contradictions import contradictions
from sequences.receiver.keys import allowed_values, field_at, table_at
from sequences.receiver.model import Receiver
from sequences.receiver.references import reference_faults


class ReceiverFileError(SequenceError):
    """A receiver file cannot be used. The message is one sentence for the person who wrote the file."""


@dataclass(frozen=True, slots=True)
class ReceiverFile:
    """A receiver together with the text it was read from, so that a record can keep both."""

    receiver: Receiver
    text: str


def read_receiver(path: Path) -> Receiver:
    """Read a receiver file as far as its shape and its references; whether its arithmetic holds is not looked at.

    The id of a receiver that comes with Peakwright may stand in place of a path, here as in all that read one.

    Raises:
        ReceiverFileError: the file is missing, is not TOML, or a key is missing, unknown, out of range or refers to
            nothing.
    """
    return _parse(_text_of(path), path.name)


def load_receiver(path: Path) -> Receiver:
    """Read a receiver file for work: its frequency plan must close.

    Raises:
        ReceiverFileError: as for `read_receiver`, or the file contradicts itself.
    """
    return load_receiver_file(path).receiver


def load_receiver_file(path: Path) -> ReceiverFile:
    """Read a receiver file for work, and keep its text.

    Raises:
        ReceiverFileError: as for `load_receiver`.
    """
    return receiver_from_text(_text_of(path), path.name)


def receiver_from_text(text: str, file_name: str) -> ReceiverFile:
    """Read a receiver for work from the text of its file.

    Raises:
        ReceiverFileError: as for `load_receiver`; `file_name` is what the sentence calls the file.
    """
    return ReceiverFile(_sound(_parse(text, file_name), file_name), text)


def shipped_receiver_files() -> tuple[ReceiverFile, ...]:
    """Give the receivers that come with Peakwright, in the order of their files' names."""
    files = sorted((entry for entry in _shelf().iterdir() if entry.name.endswith(".toml")), key=lambda one: one.name)
    return tuple(receiver_from_text(entry.read_text(encoding="utf-8"), entry.name) for entry in files)


def shipped_receivers() -> tuple[Receiver, ...]:
    """Give the receivers that come with Peakwright, without their texts."""
    return tuple(shipped.receiver for shipped in shipped_receiver_files())


def _shelf() -> Traversable:
    """Give the folder of the receivers that come with Peakwright, each file named by its receiver's id."""
    return resources.files("sequences") / "receivers"


def _text_of(path: Path) -> str:
    """Read a file, or the shipped one whose id stands in place of a path."""
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        shipped = _shelf() / f"{path}.toml"
        if path.name == str(path) and shipped.is_file():
            return shipped.read_text(encoding="utf-8")
        raise ReceiverFileError(
            f"There is no receiver file {path}: give the path of a TOML file, or the id of a receiver that comes with "
            "Peakwright."
        ) from None
    except UnicodeDecodeError:
        raise ReceiverFileError(f"{path.name} is not UTF-8 text: give a TOML file.") from None
    except OSError as error:
        raise ReceiverFileError(f"{path} cannot be read ({error.strerror}): give the path of a TOML file.") from None


def _parse(text: str, file_name: str) -> Receiver:
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ReceiverFileError(f"{file_name} is not TOML: {str(error).rstrip('.')}.") from None
    except RecursionError:
        raise ReceiverFileError(f"{file_name} has tables or lists nested far deeper than any receiver file.") from None
    try:
        receiver = Receiver.model_validate(content)
    except ValidationError as error:
        raise ReceiverFileError(f"{file_name}: {_worst_fault(error, content)}.") from None
    for fault in reference_faults(receiver):
        raise ReceiverFileError(f"{file_name}: {fault}.")
    return receiver


def _sound(receiver: Receiver, file_name: str) -> Receiver:
    for sentence in contradictions(receiver):
        raise ReceiverFileError(f"{file_name}: {sentence}")
    return receiver


def _worst_fault(error: ValidationError, content: Mapping[str, object]) -> str:
    """Say one fault: an unknown key first, since a mistyped key is missing under its right name as well."""
    faults = error.errors(include_url=False)
    fault = next((one for one in faults if one["type"] == "extra_forbidden"), faults[0])
    path = _path_in_file(fault, content)
    return f"{'.'.join(path)} {_complaint(fault, path)}"


def _path_in_file(fault: ErrorDetails, content: Mapping[str, object]) -> list[str]:
    """Give the keys that lead to the fault, without the names pydantic adds for the branches of a choice of types."""
    node: object = content
    path: list[str] = []
    for part in fault["loc"]:
        if isinstance(part, str) and isinstance(node, Mapping) and part in node:
            node = node[part]
            path.append(part)
        elif isinstance(part, int) and isinstance(node, list):
            node = node[part] if part < len(node) else None
    return [*path, str(fault["loc"][-1])] if _lacks_key(fault) else path


def _lacks_key(fault: ErrorDetails) -> bool:
    """Tell a missing key from a list that is too short: there it is the list that is wrong."""
    return fault["type"] == "missing" and isinstance(fault["loc"][-1], str)


def _complaint(fault: ErrorDetails, path: list[str]) -> str:
    table, field = _place(path)
    if fault["type"] == "extra_forbidden":
        keys = sorted(entry.alias or name for name, entry in table.model_fields.items())
        return f"is not a key of this table: use one of {', '.join(keys)}"
    allowed = allowed_values(field) if field is not None else "a table"
    if _lacks_key(fault):
        return f"is missing: give {allowed}"
    return f"is {_shown(fault['input'])}: give {allowed}"


def _place(path: list[str]) -> tuple[type[BaseModel], FieldInfo | None]:
    """Follow a path to the table it lies in and the key of that table."""
    table: type[BaseModel] = Receiver
    field: FieldInfo | None = None
    for part in path:
        found = field_at(table, part)
        if found is None:
            continue
        field = found
        table = table_at(table, part) or table
    return table, field


def _shown(value: object) -> str:
    """Write a value as the file has it, cut where it is long."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Mapping):
        return "a table"
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."  # noqa: PLR2004 - what reads well in a sentence
