"""The command tree: which headers exist, in which spellings, and where a header after a semicolon continues.

Rules of SCPI-99 volume 1, section 6.2: only the exact short or the exact long form of a mnemonic is legal, in any
case; nodes in brackets may be left out; a header after `;` without a leading colon continues beside the last one.
"""

import re
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from simulators.scpi.errors import ScpiError

_T = TypeVar("_T")
_LONGEST_MNEMONIC = 12
_CACHE_LIMIT = 4096
_HEADER = re.compile(r":?[A-Za-z]\w*(:[A-Za-z]\w*)*\??|\*[A-Za-z]+\??", re.ASCII)
_STRANGE = re.compile(r"[^A-Za-z0-9_:*?]", re.ASCII)


@dataclass(slots=True)
class Node(Generic[_T]):
    """One mnemonic of the tree. `highest_suffix` is 0 where the mnemonic takes no number."""

    children: dict[str, "Node[_T]"] = field(default_factory=dict)
    highest_suffix: int = 0
    command: _T | None = None


@dataclass(frozen=True, slots=True)
class Found(Generic[_T]):
    """A header that exists: its command, whether it asks, its numeric suffixes, and where the next one continues."""

    command: _T
    is_query: bool
    suffixes: tuple[int, ...]
    beside: Node[_T]


class HeaderTree(Generic[_T]):
    """All headers of one instrument."""

    def __init__(self) -> None:
        self.root: Node[_T] = Node()
        self._common: dict[str, _T] = {}
        self._cache: dict[tuple[int, str], Found[_T]] = {}

    def add(self, pattern: str, command: _T) -> None:
        """Enter a command, written as in the standard: `[SOURce:]FREQuency[:CW|:FIXed]`, `OUTPut#2[:STATe]`, `*RST`."""
        if pattern.startswith("*"):
            self._common[pattern.upper()] = command
            return
        for path in _expand(pattern):
            node = self.root
            for mnemonic in path.strip(":").split(":"):
                node = _child(node, mnemonic)
            node.command = command

    def find(self, header: str, beside: Node[_T]) -> Found[_T]:
        """Look a header up.

        Args:
            header: the header as it came, `?` included.
            beside: where a header without leading colon continues.

        Raises:
            ScpiError: -101, -102, -112, -113 or -114.
        """
        key = (id(beside), header)
        found = self._cache.get(key)
        if found is None:
            found = self._search(header, beside)
            if len(self._cache) < _CACHE_LIMIT:
                self._cache[key] = found
        return found

    def _search(self, header: str, beside: Node[_T]) -> Found[_T]:
        if _STRANGE.search(header):
            raise ScpiError(-101, header)
        if not _HEADER.fullmatch(header):
            raise ScpiError(-102, header)
        is_query = header.endswith("?")
        name = header.rstrip("?").upper()
        if name.startswith("*"):
            if name not in self._common:
                raise ScpiError(-113, header)
            return Found(self._common[name], is_query, (), beside)
        return self._descend(header, name, is_query, beside)

    def _descend(self, header: str, name: str, is_query: bool, beside: Node[_T]) -> Found[_T]:
        node = self.root if name.startswith(":") else beside
        parent = node
        suffixes: list[int] = []
        for mnemonic in name.strip(":").split(":"):
            parent = node
            node = _step(node, mnemonic, header, suffixes)
        if node.command is None:
            raise ScpiError(-113, header)
        return Found(node.command, is_query, tuple(suffixes), parent)


def _expand(pattern: str) -> list[str]:
    """Write out every spelling that the brackets of a pattern allow."""
    opening = pattern.find("[")
    if opening < 0:
        return [pattern]
    closing = pattern.index("]", opening)
    before, after = pattern[:opening], pattern[closing + 1 :]
    choices = ["", *pattern[opening + 1 : closing].split("|")]
    return [whole for choice in choices for whole in _expand(before + choice + after)]


def _child(node: Node[_T], mnemonic: str) -> Node[_T]:
    """Give the child of that mnemonic, making it where it is new."""
    name, _, highest = mnemonic.partition("#")
    short = "".join(character for character in name if not character.islower())
    child = node.children.setdefault(name.upper(), Node())
    node.children[short] = child
    child.highest_suffix = max(child.highest_suffix, int(highest or 0))
    return child


def _step(node: Node[_T], mnemonic: str, header: str, suffixes: list[int]) -> Node[_T]:
    """Go down one mnemonic, noting its numeric suffix (1 where none is written)."""
    child = node.children.get(mnemonic)
    suffix = 1
    if child is None:
        if len(mnemonic) > _LONGEST_MNEMONIC:
            raise ScpiError(-112, header)
        bare = mnemonic.rstrip("0123456789")
        child = node.children.get(bare)
        if child is None or bare == mnemonic:
            raise ScpiError(-113, header)
        suffix = int(mnemonic[len(bare) :])
        if not 1 <= suffix <= child.highest_suffix:
            raise ScpiError(-114 if child.highest_suffix else -113, header)
    if child.highest_suffix:
        suffixes.append(suffix)
    return child
