"""The tool that changes lines makes changes that can be run, one to a line, and the same ones for a seed."""

import ast
from pathlib import Path

from tests.mutations import ROOT, changes_of, drawn, is_noticed

SOURCE = """
def loss(a: float = 2.0, *, b: int = 3) -> float:
    \"\"\"Not 7.\"\"\"
    if not a < b and a != 0:
        return -a * b
    return a ** 2
"""


def test_signs_factors_comparisons_and_constants_are_changed_and_texts_are_not() -> None:
    found = {(one.text, one.instead) for one in changes_of(Path("loss.py"), SOURCE)}
    wanted = {("2.0", "3.0"), ("3", "4"), ("<", ">="), ("and", "or"), ("!=", "=="), ("0", "1"), ("-", "+"), ("*", "/")}
    assert found >= wanted | {("**", "*"), ("2", "3"), ("not", "")}
    assert "7" not in {text for text, _ in found}


def test_every_change_can_be_parsed_and_touches_its_own_line_only() -> None:
    for one in drawn(Path("sequences/numerics"), 100, seed=7):
        before = (ROOT / one.path).read_text()
        after = one.made_in(before)
        ast.parse(after)
        differing = [
            at
            for at, pair in enumerate(zip(before.splitlines(), after.splitlines(), strict=True), 1)
            if pair[0] != pair[1]
        ]
        assert differing == [one.line]


def test_a_seed_draws_the_same_changes_and_no_two_on_one_line() -> None:
    found = drawn(Path("sequences/numerics"), 60, seed=1)
    assert found == drawn(Path("sequences/numerics"), 60, seed=1)
    assert len({(one.path, one.line) for one in found}) == len(found) == 60


def test_a_change_is_noticed_only_by_a_test_of_what_it_changes(tmp_path: Path) -> None:
    (tmp_path / "loss.py").write_text(SOURCE)
    (tmp_path / "test_loss.py").write_text("from loss import loss\n\n\ndef test_loss():\n    assert loss(1) == 1\n")
    power, sign = (next(one for one in changes_of(Path("loss.py"), SOURCE) if one.text == text) for text in ("**", "*"))
    assert is_noticed(power, tmp_path, ["test_loss.py"], 60.0)
    assert not is_noticed(sign, tmp_path, ["test_loss.py"], 60.0)
    assert (tmp_path / "loss.py").read_text() == SOURCE
