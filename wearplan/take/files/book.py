"""What every kind of file becomes: books of sheets of cells, each cell with its address."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time

Value = float | str | datetime | date | time | bool | None

Tell = Callable[..., None]
"""Told of progress."""


@dataclass(slots=True)
class Cell:
    """One cell that holds something. ``trouble`` says why its value cannot be taken: an error, a formula unsaved."""

    value: Value
    fill: str = ""
    """Colour of its ground as RRGGBB, empty for none or white."""
    note: str = ""
    trouble: str = ""
    formula: bool = False

    @property
    def text(self) -> str:
        """The value as text on one line; line ends stay as ``\\n``."""
        if self.value is None:
            return ""
        if isinstance(self.value, bool):
            return "yes" if self.value else "no"
        if isinstance(self.value, float):
            return f"{self.value:.12g}"
        if isinstance(self.value, datetime):
            return self.value.strftime("%Y-%m-%d" if self.value.time() == time() else "%Y-%m-%d %H:%M")
        return str(self.value).replace("\u00a0", " ").strip()


@dataclass(slots=True)
class Sheet:
    """One sheet; rows and columns count from 1."""

    file: str
    name: str
    cells: dict[tuple[int, int], Cell] = field(default_factory=dict)
    hidden: bool = False
    spans: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)
    """First cell of a merged range -> rows and columns it covers."""
    lines: bool = False
    """The sheet is a text file: rows are its lines."""
    pictures: int = 0

    @property
    def bottom(self) -> int:
        return max((row for row, _ in self.cells), default=0)

    @property
    def right(self) -> int:
        return max((column for _, column in self.cells), default=0)

    def at(self, row: int, column: int) -> Cell | None:
        return self.cells.get((row, column))

    def text(self, row: int, column: int) -> str:
        cell = self.cells.get((row, column))
        return cell.text if cell is not None else ""

    def rows(self) -> Iterator[tuple[int, dict[int, Cell]]]:
        """Each row that holds anything, with its cells by column."""
        found: dict[int, dict[int, Cell]] = {}
        for (row, column), cell in self.cells.items():
            found.setdefault(row, {})[column] = cell
        yield from sorted(found.items())

    def address(self, row: int, column: int) -> str:
        return f"{letters(column)}{row}"


@dataclass(frozen=True, slots=True)
class Book:
    """One file: its sheets, the hash of its bytes, and what of it was left out."""

    file: str
    sha256: str
    sheets: tuple[Sheet, ...]
    remarks: tuple[str, ...] = ()
    ags: str = ""
    """The text of an AGS 4 file; such a file has no sheets."""


class NotRead(Exception):
    """Why a file cannot be read, and what to do."""


def letters(column: int) -> str:
    """A column as a spreadsheet names it: 1 is A, 27 is AA."""
    name = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name
