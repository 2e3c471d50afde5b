"""Every error has one sentence, one shape and a fitting status."""

import inspect

import pytest

from server import errors
from server.errors import RequestRefused, ServerError
from server.sentences import tell_validation

TREE = [kind for _, kind in inspect.getmembers(errors, inspect.isclass) if issubclass(kind, ServerError)]


@pytest.mark.parametrize("kind", TREE)
def test_a_refusal_is_the_senders_fault_and_anything_else_ours(kind: type[ServerError]) -> None:
    """RFC 9110 sections 15.5 and 15.6: 4xx and 5xx."""
    assert kind.status // 100 == (4 if issubclass(kind, RequestRefused) else 5)


@pytest.mark.parametrize("kind", TREE)
def test_the_tree_is_drawn_with_every_error_in_it(kind: type[ServerError]) -> None:
    """Whoever looks for an error finds it there."""
    assert f"{kind.__name__} " in f"{errors.__doc__} ".replace("\n", " ")


def test_a_validation_without_a_phrase_of_ours_is_told_in_the_validators_words() -> None:
    """A new kind of check is never silent."""
    failure = {"type": "something_new", "msg": "Input should be prime", "input": 4}

    assert tell_validation(failure, subject="readings") == "readings: Input should be prime."


def test_a_long_wrong_value_is_not_quoted_in_full() -> None:
    """A whole file pasted into a field, say."""
    sentence = tell_validation({"type": "float_type", "input": "x" * 10_000}, subject="start_hz")

    assert len(sentence) < 120
    assert sentence.endswith("... but must be a number.")
