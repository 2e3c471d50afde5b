"""Notes and answers of an alignment as JSON, and back."""

from dataclasses import dataclass
from typing import Any

from pydantic import TypeAdapter, ValidationError

from sequences.alignment.progress import Note, StepBegun, StepDecided, StepLeft, StepMeasured
from sequences.engine.events import Asked
from server.errors import StoreError
from server.records.quantities import with_named_quantity, with_whole_quantity
from server.records.when_taken import with_when

KINDS: dict[str, TypeAdapter[Note]] = {
    kind.__name__: TypeAdapter(kind) for kind in (StepBegun, StepMeasured, StepDecided, StepLeft)
}


@dataclass(frozen=True, slots=True)
class Answered:
    """A question and its answer."""

    asked: Asked
    answer: str


def note_to_plain(note: Note) -> dict[str, Any]:
    """Give a note's content as JSON."""
    plain: dict[str, Any] = _spell_infinities(KINDS[type(note).__name__].dump_python(note, mode="json"))
    plain.pop("run_id", None)  # the row that keeps the note has it, by the number of the record it is in
    outcome = plain.get("outcome")
    if outcome is not None:
        outcome["findings"] = [with_named_quantity(finding) for finding in outcome["findings"]]
    return plain


def note_from_plain(kind: str, body: dict[str, Any]) -> Note:
    """Give the note that was kept.

    Raises:
        StoreError: no note looks like this.
    """
    try:
        return KINDS[kind].validate_python(_as_now(body))
    except (AttributeError, KeyError, TypeError, ValidationError) as error:
        raise StoreError(f"The record holds a note of kind '{kind}' that this program cannot read.") from error


def _as_now(body: dict[str, Any]) -> dict[str, Any]:
    """Give a note's content as it is written now, whatever version wrote it."""
    outcome = body.get("outcome")
    if outcome is None:
        return body
    return {
        **body,
        "outcome": {
            **outcome,
            "findings": [with_whole_quantity(with_when(finding)) for finding in outcome["findings"]],
        },
    }


def answer_from_plain(asked: dict[str, Any], answer: str) -> Answered:
    """Give the answer that was kept.

    Raises:
        StoreError: no question looks like this.
    """
    try:
        return Answered(TypeAdapter(Asked).validate_python(asked), answer)
    except ValidationError as error:
        raise StoreError("The record holds a question that this program cannot read.") from error


def _spell_infinities(plain: Any) -> Any:  # noqa: ANN401 - JSON
    """Write what JSON has no number for as a word: an uncertainty may be without bound."""
    if isinstance(plain, dict):
        return {key: _spell_infinities(value) for key, value in plain.items()}
    if isinstance(plain, list):
        return [_spell_infinities(value) for value in plain]
    finite = not isinstance(plain, float) or abs(plain) < float("inf")
    return plain if finite else str(plain)
