"""The console that every command prints to: what it is given cannot command the terminal it shows it on."""

from typing import Any

from rich.console import Console
from rich.text import Text

from server.plain_text import harmless


class HarmlessConsole(Console):
    """Colours are its own; control characters in names, remarks and replies stand as marks."""

    def render_str(self, text: str, **how: Any) -> Text:  # noqa: ANN401 - as the library takes them
        """Make a text of every string that is printed, in tables too."""
        return super().render_str(harmless(text), **how)
