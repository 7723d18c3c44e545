"""A table of the reports on the screen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.text import Text
from textual import events
from textual.binding import Binding
from textual.widgets import DataTable

from wearplan.report.tables.table import Table, shown

_LINE = 30
"""What a column of sentences needs at least."""
_MOVES = frozenset({"up", "down", "pageup", "pagedown", "home", "end", "ctrl+home", "ctrl+end"})


class TableView(DataTable[Any]):
    """Shows a report's table; keeps it, so that the same numbers go to a file.

    The cursor stays on the row with the same key when the table is filled anew. With ``newest_first`` it stays on the
    first row instead, whatever comes to stand there, until the user moves it. Columns of sentences that are wider than
    the room left for them run over several lines.
    """

    HELP = "A table. Arrows move, Enter opens what a row rests on, Ctrl+E writes it as CSV."
    BINDINGS = [Binding("home", "scroll_top", show=False), Binding("end", "scroll_bottom", show=False)]

    def __init__(self, *, id: str, help: str = "", newest_first: bool = False) -> None:
        super().__init__(id=id, cursor_type="row", zebra_stripes=False, cell_padding=1)
        self.table: Table | None = None
        self._columns_kept: dict[int, int | None] = {}
        """Columns shown, and how wide those are that run over several lines."""
        self._help = help
        self._newest_first = newest_first
        self._moved = False

    @property
    def help_text(self) -> str:
        """What this table is for."""
        return self._help or str(self.HELP)

    def fill(self, table: Table, keys: Sequence[str] | None = None, *, apart: str = "") -> None:
        """Show a table; ``keys`` name its rows, ``apart`` is a column that is read beside the table, row by row."""
        names = list(keys) if keys is not None else [str(index) for index in range(len(table.rows))]
        kept = self._kept(table, apart)
        if table == self.table and kept == self._columns_kept and names == [str(key.value) for key in self.rows]:
            return
        before = self.key_at_cursor()
        same_heads = self.table is not None and self.table.columns == table.columns and kept == self._columns_kept
        self.clear(columns=not same_heads)
        self.table, self._columns_kept = table, kept
        if not same_heads:
            for index, wide in kept.items():
                column = table.columns[index]
                head = Text(column.head, justify="right" if column.right else "left")
                self.add_column(head, key=column.key, width=wide)
        for name, row in zip(names, table.rows, strict=True):
            cells = []
            for index in kept:
                column = table.columns[index]
                text = shown(row[index], column.form)
                cells.append(Text(text, justify="right" if column.right else "left", no_wrap=not column.wrap))
            self.add_row(*cells, key=name, height=None if any(kept.values()) else 1)
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

    def _kept(self, table: Table, apart: str) -> dict[int, int | None]:
        """Columns there is room for: the spare ones go first, the highest number before the others. With each its width
        where it runs over several lines.
        """
        cells, room = table.cells(), self.size.width or self.app.size.width
        whole = [max([len(column.head)] + [len(row[i]) for row in cells]) for i, column in enumerate(table.columns)]
        wide = [min(_LINE, each) if column.wrap else each for column, each in zip(table.columns, whole, strict=True)]
        kept = [i for i, column in enumerate(table.columns) if column.key != apart]
        while sum(wide[i] + 2 for i in kept) > room:
            spare = [i for i in kept if table.columns[i].spare]
            if not spare:
                break
            kept.remove(max(spare, key=lambda i: table.columns[i].spare))
        left = room - 2 - sum(wide[i] + 2 for i in kept)  # two for the bar at the side
        found: dict[int, int | None] = dict.fromkeys(kept)
        long = sorted((i for i in kept if whole[i] > wide[i]), key=lambda i: whole[i])
        for at, i in enumerate(long):
            more = min(whole[i] - wide[i], max(0, left) // (len(long) - at))
            left -= more
            found[i] = wide[i] + more if more < whole[i] - wide[i] else None
        return found

    def key_at_cursor(self) -> str | None:
        """Key of the row under the cursor."""
        if not self.row_count or self.cursor_row >= self.row_count:
            return None
        return str(self.coordinate_to_cell_key((self.cursor_row, 0)).row_key.value)  # type: ignore[arg-type]
