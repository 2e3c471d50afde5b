"""Whether the tests notice a wrong sign, factor, comparison or constant: single-line changes, drawn by a seed.

Run with: python -m tests.mutations FOLDER [--count 60] [--seed 1] [--tests PATH ...] [--only TEXT]

Each change is made in a copy of the tree, and the tests are run on it until one fails. A change that no test notices is
printed with its line: either a test is missing, or the line does nothing.
"""

import argparse
import ast
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console

ROOT = Path(__file__).parent.parent
CONSOLE = Console(width=150, highlight=False, markup=False)

MOST_S = 900.0
FACTOR = 1.5
OPERATORS: dict[type[ast.AST], tuple[str, str]] = {
    ast.Add: ("+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: ("*", "/"),
    ast.Div: ("/", "*"),
    ast.Pow: ("**", "*"),
    ast.FloorDiv: ("//", "*"),
    ast.Lt: ("<", ">="),
    ast.LtE: ("<=", ">"),
    ast.Gt: (">", "<="),
    ast.GtE: (">=", "<"),
    ast.Eq: ("==", "!="),
    ast.NotEq: ("!=", "=="),
    ast.And: ("and", "or"),
    ast.Or: ("or", "and"),
}
MOST_CHECKED = "tests/published"


@dataclass(frozen=True, slots=True)
class Change:
    """One change of one line: `text` at a place gives way to `instead`. Lines count from 1, columns in bytes from 0."""

    path: Path
    line: int
    column: int
    text: str
    instead: str

    def made_in(self, source: str) -> str:
        """The source of the file with the change made."""
        lines = source.splitlines(keepends=True)
        raw = lines[self.line - 1].encode()
        end = self.column + len(self.text.encode())
        lines[self.line - 1] = (raw[: self.column] + self.instead.encode() + raw[end:]).decode()
        return "".join(lines)


def changes_of(path: Path, source: str) -> list[Change]:
    """Every change that the tool knows how to make in a file, by their places."""
    finder = _Finder(path, source)
    finder.visit(ast.parse(source))
    return sorted(finder.found, key=lambda one: (one.line, one.column))


class _Finder(ast.NodeVisitor):
    """Finds what can be changed; leaves annotations, decorators, imports and texts alone."""

    def __init__(self, path: Path, source: str) -> None:
        self.path, self.lines, self.found = path, source.splitlines(), list[Change]()

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        """Pass over decorators and annotations."""
        for default in (*node.args.defaults, *(one for one in node.args.kw_defaults if one is not None)):
            self.visit(default)
        for statement in node.body:
            self.visit(statement)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        """Pass over decorators and bases."""
        for statement in node.body:
            self.visit(statement)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        """Pass over the annotation."""
        if node.value is not None:
            self.visit(node.value)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Pass over a text with figures in it: what it says is a matter of wording."""

    def visit_BinOp(self, node: ast.BinOp) -> None:
        """Sums, products and powers."""
        self._between(node.left, node.right, node.op)
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        """And, or."""
        for left, right in zip(node.values, node.values[1:], strict=False):
            self._between(left, right, node.op)
        self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        """Comparisons, chained ones too."""
        left = node.left
        for operator, right in zip(node.ops, node.comparators, strict=True):
            self._between(left, right, operator)
            left = right
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        """A sign, a negation."""
        if isinstance(node.op, ast.USub):
            self._add(node.lineno, node.col_offset, "-", "+")
        elif isinstance(node.op, ast.Not):
            self._add(node.lineno, node.col_offset, "not", "")
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        """A number: a factor of one and a half, or one more where it is whole."""
        if isinstance(node.value, bool) or not isinstance(node.value, int | float):
            return
        if node.lineno == node.end_lineno:
            text = self.lines[node.lineno - 1].encode()[node.col_offset : node.end_col_offset].decode()
            whole = isinstance(node.value, int)
            instead = str(node.value + 1) if whole else repr(node.value * FACTOR if node.value else 1.0)
            self._add(node.lineno, node.col_offset, text, instead)

    def _between(self, left: ast.expr, right: ast.expr, operator: ast.AST) -> None:
        """The operator between two terms, if all of it stands on one line."""
        if type(operator) not in OPERATORS or left.end_lineno is None or left.end_col_offset is None:
            return
        text, instead = OPERATORS[type(operator)]
        for number in range(left.end_lineno, right.lineno + 1):
            raw = self.lines[number - 1].encode()
            first = left.end_col_offset if number == left.end_lineno else 0
            last = right.col_offset if number == right.lineno else len(raw)
            match = re.search(rf"(?<![\w*/<>=!]){re.escape(text)}(?![\w*/=])", raw[first:last].decode())
            if match:
                self._add(number, first + match.start(), text, instead)
                return

    def _add(self, line: int, column: int, text: str, instead: str) -> None:
        self.found.append(Change(self.path, line, column, text, instead))


def drawn(folder: Path, count: int, seed: int, only: str = "") -> list[Change]:
    """Draw changes by a seed, no two on one line, from all files of a folder whose path holds a text."""
    everywhere: list[Change] = []
    for path in sorted((ROOT / folder).rglob("*.py")):
        if only in str(path.relative_to(ROOT)):
            everywhere += changes_of(path.relative_to(ROOT), path.read_text())
    dice = random.Random(seed)  # noqa: S311 - a draw, no secret
    dice.shuffle(everywhere)
    by_line: dict[tuple[Path, int], Change] = {}
    for one in everywhere:
        by_line.setdefault((one.path, one.line), one)
    return list(by_line.values())[:count]


def tests_for(path: Path, given: list[str]) -> list[str]:
    """The test files, those first that are likeliest to notice a change in a file."""
    files = sorted({found for one in given for found in _test_files(ROOT / one)})
    module = ".".join(path.with_suffix("").parts)
    room = Path("tests") / path.parent

    def far(file: Path) -> tuple[bool, bool, bool]:
        here = file.relative_to(ROOT)
        return path.stem not in here.stem, module not in file.read_text(), not here.is_relative_to(room)

    return [str(file.relative_to(ROOT)) for file in sorted(files, key=far)]


def _test_files(place: Path) -> Iterator[Path]:
    return iter([place]) if place.is_file() else place.rglob("test_*.py")


def is_noticed(change: Change, tree: Path, tests: list[str], most_s: float) -> bool:
    """Whether a test fails, or hangs, where the change is made in a copy of the tree; the copy is left as it was."""
    file = tree / change.path
    source = file.read_text()
    file.write_text(change.made_in(source))
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
    environment = {**os.environ, "PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(command, cwd=tree, env=environment, capture_output=True, timeout=most_s, check=False)
    except subprocess.TimeoutExpired:
        return True
    else:
        return done.returncode != 0
    finally:
        file.write_text(source)


def _copy_of_tree(folder: Path) -> Path:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    for name in filter(None, listed.split("\0")):
        if (ROOT / name).is_file():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ROOT / name, folder / name)
    return folder


def main() -> int:
    """Make the changes, print which no test noticed. Give the exit status: 0 where at least 95 % were noticed."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutations", description=__doc__.partition("\n")[0])
    parser.add_argument("folder", type=Path, help="where to make changes, from the top: sequences/numerics")
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", metavar="TEXT", help="only in files whose path holds this")
    parser.add_argument("--tests", nargs="+", help="test files and folders (tests/FOLDER and tests/published)")
    parser.add_argument("--most-s", type=float, default=MOST_S, help="seconds after which tests count as hanging")
    wanted = parser.parse_args()
    given = wanted.tests or [str(Path("tests") / wanted.folder), MOST_CHECKED]
    changes = drawn(wanted.folder, wanted.count, wanted.seed, wanted.only)
    began, noticed = time.monotonic(), 0
    with tempfile.TemporaryDirectory() as folder:
        tree = _copy_of_tree(Path(folder))
        for number, one in enumerate(changes, 1):
            caught = is_noticed(one, tree, tests_for(one.path, given), wanted.most_s)
            noticed += caught
            line = (ROOT / one.path).read_text().splitlines()[one.line - 1].strip()
            said = "noticed" if caught else "MISSED "
            CONSOLE.print(f"{number:3} {said} {one.path}:{one.line}:{one.column} {one.text} -> {one.instead}   {line}")
    CONSOLE.print(f"{noticed} of {len(changes)} noticed, in {time.monotonic() - began:.0f} s")
    return 0 if noticed >= 0.95 * len(changes) else 1


if __name__ == "__main__":
    sys.exit(main())
