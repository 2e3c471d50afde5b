"""Tables on a terminal."""

from rich import box
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from sequences.plan.text_table import TextTable


def show_table(console: Console, table: TextTable) -> None:
    """Print one table, its note below it."""
    shown = Table(title=escape(table.title), title_justify="left", box=box.SIMPLE_HEAD)
    for column in table.columns:
        shown.add_column(escape(column), overflow="fold")
    for row in table.rows:
        shown.add_row(*(escape(cell) for cell in row))
    console.print()
    console.print(shown)
    if table.note:
        console.print(table.note, markup=False, highlight=False)
