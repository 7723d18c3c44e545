"""ODS by a small reader of our own: values, colours, notes, merged cells. Entities and bombs are refused."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
import zipfile
from datetime import datetime, time

from wearplan.take.files.book import Book, Cell, NotRead, Sheet, Value

_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_STYLE = "{urn:oasis:names:tc:opendocument:xmlns:style:1.0}"
_FO = "{urn:oasis:names:tc:opendocument:xmlns:xsl-fo-compatible:1.0}"
_CALC = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}"
_MOST_REPEATED = 2000
MOST_CELLS = 3_000_000
_UNSAVED = "a formula without a stored value: open the file once in an office program, save it and give it again"


def ods_book(name: str, archive: zipfile.ZipFile, sha: str) -> Book:
    """The tables of an ODS file."""
    content = archive.read("content.xml")
    styles = archive.read("styles.xml") if "styles.xml" in archive.namelist() else b"<none/>"
    for part in (content, styles):
        if b"<!DOCTYPE" in part or b"<!ENTITY" in part:
            raise NotRead(f"{name} declares entities: not read")
    if b"manifest:encryption-data" in (
        archive.read("META-INF/manifest.xml") if "META-INF/manifest.xml" in archive.namelist() else b""
    ):
        raise NotRead(f"{name} is locked with a password; save it without one")
    try:
        root, named = ET.fromstring(content), ET.fromstring(styles)
    except ET.ParseError as error:
        raise NotRead(f"{name} is damaged ({error}); save it again") from error
    fills, hidden = _styles(root, named)
    sheets = tuple(_sheet(name, table, fills, hidden) for table in root.iter(f"{_TABLE}table"))
    scripts = any("Basic/" in part or "Scripts/" in part for part in archive.namelist())
    return Book(name, sha, sheets, (f"{name} holds macros: they are not run",) if scripts else ())


def _styles(*roots: ET.Element) -> tuple[dict[str, str], set[str]]:
    fills: dict[str, str] = {}
    hidden = set()
    for root in roots:
        for style in root.iter(f"{_STYLE}style"):
            key = style.get(f"{_STYLE}name", "")
            cell = style.find(f"{_STYLE}table-cell-properties")
            colour = cell.get(f"{_FO}background-color", "") if cell is not None else ""
            if re.fullmatch(r"#[0-9a-fA-F]{6}", colour) and colour.lower() != "#ffffff":
                fills[key] = colour[1:].upper()
            table = style.find(f"{_STYLE}table-properties")
            if table is not None and table.get(f"{_TABLE}display") == "false":
                hidden.add(key)
    return fills, hidden


def _sheet(file: str, table: ET.Element, fills: dict[str, str], hidden: set[str]) -> Sheet:
    out = Sheet(file, table.get(f"{_TABLE}name", "?"), hidden=table.get(f"{_TABLE}style-name", "") in hidden)
    row_at = 0
    for row in table.iter(f"{_TABLE}table-row"):
        repeated = int(row.get(f"{_TABLE}number-rows-repeated", "1"))
        cells = _row(row, fills)
        for _ in range(min(repeated, _MOST_REPEATED) if cells else 1):
            row_at += 1
            for column, (cell, span) in cells.items():
                out.cells[row_at, column] = cell
                if span != (1, 1):
                    out.spans[row_at, column] = span
        if not cells:
            row_at += repeated - 1
        if len(out.cells) > MOST_CELLS:
            raise NotRead(f"{file}, {out.name} has more than {MOST_CELLS:,} cells")
    return out


def _row(row: ET.Element, fills: dict[str, str]) -> dict[int, tuple[Cell, tuple[int, int]]]:
    found = {}
    column = 0
    for element in row:
        if element.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        repeated = int(element.get(f"{_TABLE}number-columns-repeated", "1"))
        cell = _cell(element, fills)
        span = (
            int(element.get(f"{_TABLE}number-rows-spanned", "1")),
            int(element.get(f"{_TABLE}number-columns-spanned", "1")),
        )
        if cell is not None and (cell.value is not None or cell.trouble or repeated <= _MOST_REPEATED):
            for at in range(min(repeated, _MOST_REPEATED)):
                found[column + 1 + at] = (cell, span)
        column += repeated
    return found


def _cell(element: ET.Element, fills: dict[str, str]) -> Cell | None:
    kind = element.get(f"{_OFFICE}value-type", "")
    text = "\n".join("".join(part.itertext()) for part in element.findall(f"{_TEXT}p"))
    formula = element.get(f"{_TABLE}formula") is not None
    fill = fills.get(element.get(f"{_TABLE}style-name", ""), "")
    note = element.find(f"{_OFFICE}annotation")
    said = "\n".join("".join(p.itertext()) for p in note.findall(f"{_TEXT}p")) if note is not None else ""
    if element.get(f"{_CALC}value-type") == "error" or re.match(r"(#[A-Z/0!?]+|Err:\d+)\Z", text.strip()):
        return Cell(text, fill, said, f"an error value of the spreadsheet ({text})", formula)
    value: Value = _value(element, kind, text)
    if value is None and formula:
        return Cell(None, fill, said, _UNSAVED, True)
    if value is None and not fill and not said:
        return None
    return Cell(value, fill, said, "", formula)


def _value(element: ET.Element, kind: str, text: str) -> Value:
    if kind in ("float", "percentage", "currency"):
        return float(element.get(f"{_OFFICE}value", "nan"))
    if kind == "date":
        return datetime.fromisoformat(element.get(f"{_OFFICE}date-value", "").rstrip("Z")[:26])
    if kind == "time":
        match = re.match(r"PT(\d+)H(\d+)M(\d+)", element.get(f"{_OFFICE}time-value", ""))
        return time(int(match[1]) % 24, int(match[2]), int(match[3])) if match else text
    if kind == "boolean":
        return element.get(f"{_OFFICE}boolean-value") == "true"
    return text if text.strip() else None
