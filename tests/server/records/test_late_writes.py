"""How a run ended is written later where the record does not answer at once."""

import pytest

from server.errors import StoreError
from server.records.late_writes import LateWrites
from tests.server.benches import eventually


def test_what_fails_is_told_and_tried_again_in_order_until_it_is_written() -> None:
    """The database comes back in the meantime."""
    late, written = LateWrites(try_every_s=0.005), list[str]()
    away = [True]

    def enter(word: str) -> None:
        if away[0]:
            raise StoreError("The record does not answer.")
        written.append(word)

    for word in ("first", "second"):
        with pytest.raises(StoreError):
            late.write(lambda word=word: enter(word))  # type: ignore[misc]
    assert written == []
    away[0] = False
    eventually(lambda: written == ["first", "second"])
    late.write(lambda: enter("third"))
    late.end()

    assert written == ["first", "second", "third"]


def test_the_end_is_a_last_try() -> None:
    """Right before the program ends."""
    late, written = LateWrites(try_every_s=1000.0), list[str]()

    def enter() -> None:
        written.append("tried")
        if len(written) == 1:
            raise StoreError("The record does not answer.")

    with pytest.raises(StoreError):
        late.write(enter)
    late.end()

    assert written == ["tried", "tried"]
