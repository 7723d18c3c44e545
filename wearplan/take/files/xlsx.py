"""XLSX through openpyxl: values, colours, notes, merged and error cells. Macros and links are never touched."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date, datetime, time
from typing import Any

from wearplan.take.files.book import Book, Cell, NotRead, Sheet, Tell

_SMALL = 25_000_000
"""A sheet whose XML is larger is read as a stream, without notes."""
MOST_CELLS = 3_000_000
_MERGED = re.compile(rb'<mergeCell ref="([A-Z]+)(\d+):([A-Z]+)(\d+)"')
NO_XLSX = "workbooks need openpyxl, which is not installed: pip install 'wearplan[xlsx]'"
UNSAVED = "a formula without a stored value: open the file once in an office program, save it and give it again"


def xlsx_book(name: str, archive: zipfile.ZipFile, content: bytes, sha: str, tell: Tell | None = None) -> Book:
    """The workbook's sheets; `NotRead` where openpyxl is missing or cannot read it."""
    try:
        import openpyxl
    except ImportError as error:
        raise NotRead(f"{name}: {NO_XLSX}") from error
    _no_entities(name, archive)
    remarks = []
    names = archive.namelist()
    if any("vbaProject" in part for part in names):
        remarks.append(f"{name} holds macros: they are not run")
    if any(part.startswith("xl/externalLinks/") for part in names):
        remarks.append(f"{name} links to other files: they are not followed, stored values are taken")
    parts = [archive.getinfo(part) for part in names if part.startswith("xl/worksheets/") and part.endswith(".xml")]
    big = any(part.file_size > _SMALL for part in parts)
    formulas = any(b"<f>" in data or b"<f " in data for data in (archive.read(part) for part in parts))
    options = {"read_only": big, "keep_links": False}
    try:
        values = openpyxl.load_workbook(io.BytesIO(content), data_only=True, **options)
        asked = openpyxl.load_workbook(io.BytesIO(content), data_only=False, **options) if formulas else None
        sheets = []
        for sheet in values.worksheets:
            if tell is not None:
                tell(f"reading {name}, {sheet.title}")
            sheets.append(_sheet(name, sheet, asked[sheet.title] if asked is not None else None, big))
    except NotRead:
        raise
    except Exception as error:  # the library raises what it likes on a damaged file
        raise NotRead(
            f"{name} cannot be read as a workbook ({type(error).__name__}: {error}); save it again"
        ) from error
    return Book(name, sha, tuple(sheets), tuple(remarks))


def _no_entities(name: str, archive: zipfile.ZipFile) -> None:
    for part in archive.namelist():
        if part.endswith((".xml", ".rels")):
            with archive.open(part) as data:
                start = data.read(4096)
            if b"<!DOCTYPE" in start or b"<!ENTITY" in start:
                raise NotRead(f"{name} declares entities in {part}: not read")


def _sheet(file: str, sheet: Any, asked: Any, big: bool) -> Sheet:
    out = Sheet(file, sheet.title, hidden=sheet.sheet_state != "visible")
    if not big:
        _merged(out, sheet)
    colours: dict[int, str] = {}
    both = zip(sheet.iter_rows(), asked.iter_rows(), strict=False) if asked is not None else None
    pairs = both if both is not None else ((row, None) for row in sheet.iter_rows())
    for row, formulas in pairs:
        for at, cell in enumerate(row):
            formula = formulas is not None and at < len(formulas) and formulas[at].data_type == "f"
            if cell.value is None and not formula and (big or not cell.has_style):
                continue
            made = _cell(cell, formula, colours, noted=not big)
            if made.value is not None or made.trouble or made.fill:
                out.cells[cell.row, cell.column] = made
        if len(out.cells) > MOST_CELLS:
            raise NotRead(f"{file}, {sheet.title} has more than {MOST_CELLS:,} cells")
    return out


def _merged(out: Sheet, sheet: Any) -> None:
    """Note merged cells and pictures."""
    for merged in sheet.merged_cells.ranges:
        rows, columns = merged.max_row - merged.min_row + 1, merged.max_col - merged.min_col + 1
        out.spans[merged.min_row, merged.min_col] = rows, columns
    out.pictures = len(getattr(sheet, "_images", ()))


def _cell(cell: Any, formula: bool, colours: dict[int, str], *, noted: bool) -> Cell:
    """A cell with its colour and, where ``noted``, its note."""
    made = _valued(cell, formula)
    made.fill = _fill(cell, colours) if cell.has_style else ""
    made.note = str(cell.comment.text).strip() if noted and cell.comment is not None else ""
    return made


def _valued(cell: Any, formula: bool) -> Cell:
    value = cell.value
    if value is None and not formula:
        return Cell(None)
    if formula and value is None:
        return Cell(None, trouble=UNSAVED, formula=True)
    if cell.data_type == "e":
        return Cell(str(value), trouble=f"an error value of the spreadsheet ({value})", formula=formula)
    if isinstance(value, bool):
        return Cell(value, formula=formula)
    if isinstance(value, (int, float)):
        return Cell(float(value), formula=formula)
    if isinstance(value, (datetime, date, time)):
        whole = datetime(value.year, value.month, value.day) if type(value) is date else value
        return Cell(whole, formula=formula)
    text = str(value)
    return Cell(text if text.strip() else None, formula=formula)


def _fill(cell: Any, known: dict[int, str]) -> str:
    style = cell._style.fillId if hasattr(cell, "_style") else cell.style_array.fillId
    if style not in known:
        fill = cell.fill
        colour = ""
        if fill is not None and fill.fill_type == "solid":
            colour = fill.fgColor.rgb if isinstance(fill.fgColor.rgb, str) else f"theme {fill.fgColor.theme}"
            colour = colour[-6:] if len(colour) == 8 else colour
        known[style] = "" if colour in ("FFFFFF",) else colour
    return known[style]
