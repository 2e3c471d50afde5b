"""Text that comes from elsewhere, made harmless for a terminal: it must not move the cursor or change its colours."""

import unicodedata

SHOWN_AS = "\N{REPLACEMENT CHARACTER}"
CONTROL = {"Cc", "Cf", "Zl", "Zp"}
"""Unicode's general categories of what controls and does not show: UAX 44, table 12."""


def on_one_line(text: str) -> str:
    """Give a text without any control character; each stands as a mark, so that it can be seen that one was there."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(SHOWN_AS if unicodedata.category(each) in CONTROL else each for each in text)


def harmless(text: str) -> str:
    """Give a text of several lines without any other control character than those that end lines, and tabs."""
    return "\n".join("\t".join(map(on_one_line, line.split("\t"))) for line in text.split("\n"))
