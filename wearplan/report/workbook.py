"""Tables as a workbook people can go on with: numbers as numbers, dates as dates, one sheet a table.

A first sheet says what it is, when it was made and from which inputs, and carries the caution.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from wearplan import __version__
from wearplan.report.tables.table import Band, Column, Table, Worded
from wearplan.report.words import plain
from wearplan.site import Site

NO_XLSX = "Workbooks need openpyxl, which is not installed: pip install 'wearplan[xlsx]'"
_STATION = re.compile(r"(-?)(\d+)\+(\d{3}(?:\.\d+)?)\Z")
_FORMS = {"int": "#,##0", "percent": "0%", "percent1": "0.0%", "chance": "0%", "fixed1": "0.0", "fixed2": "0.00",
          "fixed3": "0.000"}  # fmt: skip
_LONGEST = 31  # letters of a sheet's name
_CELL_CHARACTERS = 32_000


class NoWorkbooks(Exception):
    """The library that reads and writes workbooks is not installed; the message says how to get it."""

    def __init__(self) -> None:
        super().__init__(NO_XLSX)


def workbook(tables: Sequence[Table], site: Site | None, *, what: str, notice: str, lines: Sequence[str] = ()) -> bytes:
    """The tables as an XLSX file.

    Parameters
    ----------
    what : str
        What the workbook is, for its first sheet.
    notice : str
        The caution that stands on the first sheet.
    lines : sequence of str, optional
        Further lines for the first sheet.

    Raises
    ------
    NoWorkbooks
        If openpyxl is not installed.
    """
    try:
        from openpyxl import Workbook
        from openpyxl.styles import Alignment, Font
    except ImportError as error:
        raise NoWorkbooks from error
    book = Workbook()
    first = book.active
    first.title = "About"
    names = _names(tables)
    listed = [f"{name}: {table.title}" for name, table in zip(names, tables, strict=True)]
    for at, line in enumerate([*_about(site, what, notice), *lines, "", *listed], start=1):
        _put(first, at, 1, line)
    first["A1"].font = Font(bold=True, size=14)
    first.column_dimensions["A"].width = 100
    for (cell,) in first.iter_rows():
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    for name, table in zip(names, tables, strict=True):
        _sheet(book.create_sheet(name), table)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _about(site: Site | None, what: str, notice: str) -> list[str]:
    made = datetime.now().astimezone().strftime("%Y-%m-%d %H:%M %Z")
    lines = [what]
    if site is not None:
        lines.append(site.name)
        if site.invented:
            lines.append("Invented data: this drive does not exist.")
    lines += [notice, f"wearplan {__version__}, made {made}"]
    if site is not None:
        lines.append(f"inputs sha256 {site.inputs_sha256}")
    return lines


def _names(tables: Sequence[Table]) -> list[str]:
    """Names of sheets: no letter a workbook forbids, none twice."""
    names: list[str] = []
    for number, table in enumerate(tables, start=1):
        bare = re.sub(r"[\[\]:*?/\\']", " ", plain(table.title)).strip() or "table"
        names.append(" ".join(f"{number:02d} {bare}".split())[:_LONGEST].strip())
    return names


def _sheet(sheet: Any, table: Table) -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    heads, rows = _spread(table)
    _put(sheet, 1, 1, table.title)
    sheet["A1"].font = Font(bold=True)
    for at, (head, _) in enumerate(heads, start=1):
        _put(sheet, 3, at, head)
        sheet.cell(3, at).font = Font(bold=True)
        longest = max([len(str(row[at - 1])) for row in rows if row[at - 1] is not None] + [len(head)])
        sheet.column_dimensions[get_column_letter(at)].width = min(max(longest + 2, 8), 60)
    for line, row in enumerate(rows, start=4):
        for at, (value, (_, form)) in enumerate(zip(row, heads, strict=True), start=1):
            _put(sheet, line, at, value, form)
    for line, note in enumerate(table.notes, start=len(rows) + 5):
        _put(sheet, line, 1, note)
    sheet.freeze_panes = "A4"
    if rows:
        sheet.auto_filter.ref = f"A3:{get_column_letter(len(heads))}{len(rows) + 3}"


def _spread(table: Table) -> tuple[list[tuple[str, str]], list[list[Any]]]:
    """Heads with their forms, and rows: a band takes three columns, a chainage in words gets its number beside it."""
    heads: list[tuple[str, str]] = []
    columns: list[list[Any]] = []
    for at, column in enumerate(table.columns):
        values = [row[at] for row in table.rows]
        for head, cells, form in _parts(column, values):
            heads.append((head, form))
            columns.append(cells)
    return heads, [list(row) for row in zip(*columns, strict=True)] if columns else []


def _parts(column: Column, values: Sequence[Any]) -> list[tuple[str, list[Any], str]]:
    head, form = column.head, column.form
    if any(isinstance(value, Band) for value in values):
        ends = (("early or low (1 in 20)", "p05"), ("middle", "p50"), ("late or high (1 in 20)", "p95"))
        return [
            (f"{head}, {words}", [getattr(v, key) if isinstance(v, Band) else (v if key == "p50" else None)
                                  for v in values], form)
            for words, key in ends
        ]  # fmt: skip
    bare = [value.value if isinstance(value, Worded) else value for value in values]
    stations = [_station(value) for value in bare]
    if any(value is not None for value in stations):
        return [(head, bare, "text"), (f"{head}, m", stations, "fixed1")]
    return [(head, bare, form)]


def _station(value: Any) -> float | None:
    found = _STATION.match(value) if isinstance(value, str) else None
    if not found:
        return None
    metres = 1000.0 * int(found[2]) + float(found[3])
    return -metres if found[1] else metres


def _put(sheet: Any, row: int, column: int, value: Any, form: str = "text") -> None:
    """One cell: what a spreadsheet can reckon with as that, everything else as text that it will not run."""
    cell = sheet.cell(row, column)
    if value is None or value == "":
        return
    if isinstance(value, bool):
        value = "yes" if value else "no"
    if isinstance(value, datetime):
        cell.value, cell.number_format = value.replace(tzinfo=None), "yyyy-mm-dd hh:mm"
    elif isinstance(value, date):
        cell.value, cell.number_format = value, "yyyy-mm-dd"
    elif isinstance(value, (int, float)):
        cell.value = float(value) if isinstance(value, float) else int(value)
        if form in _FORMS:
            cell.number_format = _FORMS[form]
    else:
        cell.value = plain(str(value))[:_CELL_CHARACTERS]
        cell.data_type = "s"  # "=..." is a word here, no formula
