"""Matrices of readings: places down or across, stops along the other side."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from statistics import median

from wearplan.take.files.book import Cell, Sheet
from wearplan.take.find.values import looks_like_day
from wearplan.take.find.words import STOP_HEADS, TOTALS, is_word, meaning_of

_LEAST = 4
_ROLES = STOP_HEADS | {"method": "method"}


@dataclass(slots=True)
class Line:
    """One stop of a matrix: its cells by place, and what its heads say, each with its address."""

    heads: dict[str, tuple[int, int]] = field(default_factory=dict)
    cells: dict[str, tuple[int, int]] = field(default_factory=dict)
    strangers: dict[str, tuple[int, int]] = field(default_factory=dict)


@dataclass(slots=True)
class Matrix:
    """A matrix found: its lines in the sheet's order."""

    sheet: Sheet
    across: bool
    lines: list[Line]
    top: tuple[int, int]
    bottom: tuple[int, int]
    stranger_cells: dict[str, tuple[int, int]] = field(default_factory=dict)
    left_out: list[tuple[int, int, str]] = field(default_factory=list)

    @property
    def range(self) -> str:
        return f"{self.sheet.address(*self.top)}:{self.sheet.address(*self.bottom)}"


class _View:
    """A sheet as it is, or with rows and columns exchanged."""

    def __init__(self, sheet: Sheet, across: bool) -> None:
        self.sheet, self.across = sheet, across
        self.cells = {
            (c, r) if across else (r, c): cell
            for (r, c), cell in sheet.cells.items()
            if cell.value is not None or cell.trouble or cell.fill
        }
        self.columns: dict[int, dict[int, Cell]] = {}
        for (row, column), cell in self.cells.items():
            self.columns.setdefault(column, {})[row] = cell

    def real(self, row: int, column: int) -> tuple[int, int]:
        return (column, row) if self.across else (row, column)


def find_matrices(sheet: Sheet, known: Callable[[str], str | None], rings: tuple[int, int]) -> list[Matrix]:
    """Every matrix on a sheet.

    Parameters
    ----------
    known : callable
        The place a text names, or None.
    rings : tuple of int
        First and last ring of the log; (0, 0) without one.
    """
    for across in (False, True):
        view = _View(sheet, across)
        best = None
        for column, cells in view.columns.items():
            named = {row: name for row, cell in cells.items() if cell.value is not None and (name := known(cell.text))}
            if len(named) >= _LEAST and len(set(named.values())) > 0.85 * len(named):
                inside = [row for row in cells if min(named) <= row <= max(named) and cells[row].value is not None]
                if len(named) >= 0.6 * len(inside) and (best is None or len(named) > len(best[1])):
                    best = (column, named)
        if best is not None:
            found = _matrix(view, best[0], best[1], rings)
            if found is not None:
                return [found]
    return []


def _matrix(view: _View, place_at: int, named: dict[int, str], rings: tuple[int, int]) -> Matrix | None:
    first = min(named)
    columns = [
        column
        for column in sorted(view.columns)
        if column != place_at and any(row in named for row in view.columns[column])
    ]
    roles: dict[int, dict[str, int]] = {column: {} for column in columns}
    head_rows = sorted({row for column in columns for row in view.columns[column] if row < first})
    for row in head_rows:
        _roles_of_row(view, row, columns, roles, rings)
    data = [column for column in columns if roles[column].keys() & {"ring", "date", "chainage", "number"}]
    if not data:
        return None
    strangers = _strangers(view, place_at, named)
    lines = [_line(view, column, roles[column], named, strangers) for column in data]
    top = view.real(min(head_rows, default=first), min(place_at, *data))
    bottom = view.real(max(named), max(data))
    matrix = Matrix(
        view.sheet, view.across, lines, top, bottom, {n: view.real(r, place_at) for r, n in strangers.items()}
    )
    for column in sorted(set(columns) - set(data)):
        above = [row for row in view.columns[column] if row < first]
        head = view.columns[column][max(above)].text if above else ""
        matrix.left_out.append((*view.real(first, column), head))
    return matrix


def _line(
    view: _View, column: int, roles: dict[str, int], named: dict[int, str], strangers: dict[int, str]
) -> Line:
    """One stop of the matrix: its heads, its readings, and cells beside what looks like a place."""
    line = Line(heads={role: view.real(row, column) for role, row in roles.items()})
    for row, cell in view.columns[column].items():
        said = cell.value is not None or bool(cell.trouble)
        if row in named and (said or cell.fill):
            line.cells[named[row]] = view.real(row, column)
        elif row in strangers and said:
            line.strangers[strangers[row]] = view.real(row, column)
    return line


def _strangers(view: _View, place_at: int, named: dict[int, str]) -> dict[int, str]:
    """Cells beside the places that look like one of them but name none."""
    shapes = {_shape(name) for name in named.values()}
    low, high = min(named), max(named)
    return {
        row: cell.text
        for row, cell in view.columns[place_at].items()
        if row not in named
        and low <= row <= high + 5
        and cell.value is not None
        and not is_word(cell.text, TOTALS)
        and (_shape(cell.text) in shapes or low < row < high)
    }


def _shape(text: str) -> str:
    return re.sub(r"\d+", "9", re.sub(r"[A-Za-z]+", "A", text.removesuffix(".0")))


def _roles_of_row(
    view: _View, row: int, columns: list[int], roles: dict[int, dict[str, int]], rings: tuple[int, int]
) -> None:
    cells = {
        column: view.columns[column][row]
        for column in columns
        if row in view.columns[column] and view.columns[column][row].value is not None
    }
    if not cells:
        return
    values, label = cells, _label(view, row, min(cells), set(cells), above=False)
    if not _ROLES.get(meaning_of(label)):  # a label may stand among the values
        values = {at: cell for at, cell in cells.items() if not _ROLES.get(meaning_of(cell.text)) or _is_value(cell)}
        if not values:
            return
        label = _label(view, row, min(values), set(values))
    role = _ROLES.get(meaning_of(label))
    likely = _by_look(values, rings)
    if role is None or (likely is not None and role in ("number", "ring") and likely not in ("number", "ring", None)):
        role = likely
    if role is None:
        return
    for column, cell in values.items():
        if role in ("mode", "method") or _is_value(cell) or cell.text in ("-", "–", "—"):
            roles[column].setdefault(role, row)


def _is_value(cell: Cell) -> bool:
    return not isinstance(cell.value, str) or bool(re.search(r"\d", cell.text))


def _label(view: _View, row: int, first: int, data: set[int], *, above: bool = True) -> str:
    """The words beside a row of heads: the nearest on its left, else right above its first value."""
    left = [column for column in view.columns if column < first and row in view.columns[column] and column not in data]
    for column in sorted(left, reverse=True):
        cell = view.columns[column][row]
        if isinstance(cell.value, str) and meaning_of(cell.text):
            return cell.text
    over = view.columns[first].get(row - 1) if above else None
    return over.text if over is not None and isinstance(over.value, str) else ""


def _by_look(values: dict[int, Cell], rings: tuple[int, int]) -> str | None:
    cells = list(values.values())
    if sum(looks_like_day(cell) for cell in cells) > 0.6 * len(cells):
        return "date"
    if sum(bool(re.search(r"\d+\+\d{2,3}", cell.text)) for cell in cells) > 0.6 * len(cells):
        return "chainage"
    numbers = [
        int(m[1]) for cell in cells if (m := re.fullmatch(r"(?:[A-Za-zñáéíóú°º. ]*?)\s*(\d{1,6})(?:\.0)?", cell.text))
    ]
    if len(numbers) > 0.6 * len(cells) and len(numbers) > 1:
        if numbers == list(range(numbers[0], numbers[0] + len(numbers))) and max(numbers) < 200:
            return "number"
        if rings[1] and rings[0] <= median(numbers) <= rings[1] * 1.05:
            return "ring"
        return "ring" if not rings[1] and sorted(numbers) == numbers else None
    return None
