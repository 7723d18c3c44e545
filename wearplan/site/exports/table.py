"""A machine's export, opened by a mapping: where its header stands and which cell is what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from wearplan.site.exports.mapping import Column, MappingFile, Source, as_column, factor_of
from wearplan.site.parse.delimited import (
    Row,
    decimal_of,
    decoded,
    head_word,
    is_empty,
    moment,
    number,
    rows_of,
    separator_of,
)
from wearplan.site.parse.faults import FaultLog
from wearplan.site.parse.text import clean, shown

_MOST_BYTES = 64 * 1024 * 1024
_SEARCHED = 200
"""So many rows are looked through for the header."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A column found: its place, and how its numbers become ours."""

    place: int
    head: str
    factor: float
    add: float


@dataclass(frozen=True, slots=True)
class Export:
    """An export's rows below its header, and the mapped columns found in it."""

    file: str
    columns: Mapping[str, Placed]
    extra: Mapping[str, Placed]
    width: int
    rows: list[Row]
    decimal: str
    forms: tuple[str, ...]
    offset: str | None
    separator: str

    def cell(self, row: Row, key: str) -> str:
        """The text under one of our names; empty where there is none."""
        placed = self.columns.get(key)
        if placed is None or placed.place >= len(row.cells):
            return ""
        text = row.cells[placed.place]
        return "" if is_empty(text) else text

    def too_wide(self, row: Row) -> bool:
        """Whether anything stands beyond the last head, as an unquoted decimal comma among commas would bring about."""
        return any(row.cells[self.width :])

    def number(self, row: Row, key: str) -> float | None:
        """The value in our unit; None where the cell is empty; `ValueError` where it is no number."""
        text = self.cell(row, key)
        if not text:
            return None
        placed = self.columns[key]
        return number(text, self.decimal) * placed.factor + placed.add

    def moment(self, row: Row, key: str, day_key: str = "") -> datetime | None:
        """The time, together with the day where that has a column of its own."""
        text = " ".join(part for part in (self.cell(row, day_key) if day_key else "", self.cell(row, key)) if part)
        return moment(text, self.forms, self.offset) if text else None


def open_export(path: Path, sources: Mapping[str, Source], mapping: MappingFile, log: FaultLog) -> Export | None:
    """Read an export and find the mapped columns; None with a fault where that fails."""
    file = path.name
    try:
        with path.open("rb") as export:  # never more: a device has no end
            content = export.read(_MOST_BYTES + 1)
        if len(content) > _MOST_BYTES:
            raise ValueError("it is far too large for a log of rings")
        text = decoded(content, mapping.file.encoding)
    except (OSError, ValueError) as error:
        log.add(file, 1, "", f"cannot be read ({clean(str(error))[:200]})", code="unreadable")
        return None
    separator = mapping.file.separator or separator_of(text)
    rows = rows_of(text, "\t" if separator == "tab" else separator)
    return placed_export(file, rows, sources, mapping, separator, log)


def placed_export(
    file: str, rows: list[Row], sources: Mapping[str, Source], mapping: MappingFile, separator: str, log: FaultLog
) -> Export | None:
    """Find the header among rows and place the columns."""
    columns = {key: column for key, source in sources.items() if (column := as_column(source)) is not None}
    header = _header(rows, columns, mapping.file.header_line)
    if header is None:
        log.add(file, mapping.file.header_line or 1, "", "holds no header line", code="no-header")
        return None
    places = {head_word(cell): place for place, cell in reversed(list(enumerate(header.cells)))}
    columns = {key: col for key, col in columns.items() if not col.optional or head_word(col.head) in places}
    placed = _place_columns(file, header, columns, places, mapping, log)
    if placed is None:
        return None
    below = [row for row in rows if row.line > header.line]
    sample = [cell for row in below[:500] for cell in row.cells]
    return Export(
        file=file,
        columns=placed,
        extra={key: Placed(places[head_word(head)], head, 1.0, 0.0) for key, head in mapping.extra.items()},
        width=len(header.cells),
        rows=below,
        decimal=mapping.file.decimal or decimal_of(sample, separator),
        forms=(mapping.time.form,) if mapping.time.form else (),
        offset=mapping.time.offset,
        separator=separator,
    )


def _header(rows: list[Row], columns: Mapping[str, Column], line: int | None) -> Row | None:
    """The row that has most of the wanted heads; the one of a line where the mapping says it."""
    wanted = {head_word(column.head) for column in columns.values()}
    searched = [row for row in rows[:_SEARCHED] if line in (None, row.line)]
    return max(searched, key=lambda row: len(wanted & {head_word(cell) for cell in row.cells}), default=None)


def _place_columns(
    file: str,
    header: Row,
    columns: Mapping[str, Column],
    places: Mapping[str, int],
    mapping: MappingFile,
    log: FaultLog,
) -> dict[str, Placed] | None:
    """Each column at its place in the header; None with faults where one is missing or in an unknown unit."""
    wanted = [*(column.head for column in columns.values()), *mapping.extra.values()]
    missing = [head for head in wanted if head_word(head) not in places]
    if missing:
        there = ", ".join(shown(cell) for cell in header.cells[:30])
        log.add(
            file, header.line, "",
            f"has no column {', '.join(shown(head) for head in missing)}; the most likely header has: {there}. "
            "Mend the heads in the mapping",
            code="no-column",
        )  # fmt: skip
        return None
    placed = {}
    for key, column in columns.items():
        place = places[head_word(column.head)]
        try:
            placed[key] = _placed(key, column, place, header.cells[place])
        except ValueError as error:
            log.add(file, header.line, shown(column.head), str(error), code="unknown-unit")
    return placed if len(placed) == len(columns) else None


def _placed(key: str, column: Column, place: int, head: str) -> Placed:
    return Placed(place, head, factor_of(key, column, head), column.add)
