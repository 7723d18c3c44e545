"""A table of the reports on the screen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.text import Text
from textual import events
from textual.binding import Binding
from textual.widgets import DataTable

from wearplan.report.tables.table import Table, shown

_MOVES = frozenset({"up", "down", "pageup", "pagedown", "home", "end", "ctrl+home", "ctrl+end"})


class TableView(DataTable[Any]):
    """Shows a report's table; keeps it, so that the same numbers go to a file.

    The cursor stays on the row with the same key when the table is filled anew. With ``newest_first`` it stays on the
    first row instead, whatever comes to stand there, until the user moves it.
    """

    HELP = "A table. Arrows move, Enter opens what a row rests on, Ctrl+E writes it as CSV."
    BINDINGS = [Binding("home", "scroll_top", show=False), Binding("end", "scroll_bottom", show=False)]

    def __init__(self, *, id: str, help: str = "", newest_first: bool = False) -> None:
        super().__init__(id=id, cursor_type="row", zebra_stripes=False, cell_padding=1)
        self.table: Table | None = None
        self._columns_kept: list[int] = []
        self._help = help
        self._newest_first = newest_first
        self._moved = False

    @property
    def help_text(self) -> str:
        """What this table is for."""
        return self._help or str(self.HELP)

    def fill(self, table: Table, keys: Sequence[str] | None = None) -> None:
        """Show a table; ``keys`` name its rows."""
        names = list(keys) if keys is not None else [str(index) for index in range(len(table.rows))]
        kept = self._kept(table)
        if table == self.table and kept == self._columns_kept and names == [str(key.value) for key in self.rows]:
            return
        before = self.key_at_cursor()
        same_heads = self.table is not None and self.table.columns == table.columns and kept == self._columns_kept
        self.clear(columns=not same_heads)
        self.table, self._columns_kept = table, kept
        if not same_heads:
            for index in kept:
                column = table.columns[index]
                self.add_column(Text(column.head, justify="right" if column.right else "left"), key=column.key)
        for name, row in zip(names, table.rows, strict=True):
            cells = []
            for index in kept:
                column = table.columns[index]
                text = shown(row[index], column.form)
                cells.append(Text(text, justify="right" if column.right else "left", no_wrap=not column.wrap))
            self.add_row(*cells, key=name)
        if before in names and (self._moved or not self._newest_first):
            self.move_cursor(row=names.index(before), animate=False)

    def on_key(self, event: events.Key) -> None:
        self._moved = self._moved or event.key in _MOVES

    def on_click(self) -> None:
        self._moved = True

    def to_top(self) -> None:
        """The cursor on the first row, as if the user had not moved it."""
        self._moved = False
        self.move_cursor(row=0, animate=False)

    def _kept(self, table: Table) -> list[int]:
        """Columns there is room for: the spare ones go first, the highest number before the others."""
        cells = table.cells()
        wide = [
            min(30 if column.wrap else 999, max([len(column.head)] + [len(row[i]) for row in cells])) + 2
            for i, column in enumerate(table.columns)
        ]
        kept = list(range(len(table.columns)))
        while sum(wide[i] for i in kept) > (self.size.width or self.app.size.width):
            spare = [i for i in kept if table.columns[i].spare]
            if not spare:
                break
            kept.remove(max(spare, key=lambda i: table.columns[i].spare))
        return kept

    def key_at_cursor(self) -> str | None:
        """Key of the row under the cursor."""
        if not self.row_count or self.cursor_row >= self.row_count:
            return None
        return str(self.coordinate_to_cell_key((self.cursor_row, 0)).row_key.value)  # type: ignore[arg-type]
