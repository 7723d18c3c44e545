"""CSV as machines log it: rows of cells with their line, each row on its own, and cells as strict values."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime

from wearplan.site.parse.faults import NOTHING, FaultLog
from wearplan.site.parse.text import CONTROL, clean, did_you_mean, nearest, shown

MOST_ROWS = 50_000
"""More rows than any drive has rings."""
MOST_COLUMNS = 200
_LONGEST_LINE = 20_000
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?\Z", re.ASCII)
_WHOLE = re.compile(r"[+-]?\d{1,9}\Z", re.ASCII)


class BadCell(ValueError):
    """Why a cell cannot be what its column says."""


def number(text: str, low: float, high: float) -> float | None:
    """A number within a range; None for an empty cell.

    Raises
    ------
    BadCell
        For anything else.
    """
    text = text.strip(" \t")
    if not text:
        return None
    if not _NUMBER.match(text):
        hint = "; write the decimal point as ." if re.match(r"[+-]?\d+,\d+\Z", text) else ""
        raise BadCell(f"{shown(text)} is no number{hint}")
    value = float(text)
    if not math.isfinite(value) or not low <= value <= high:
        raise BadCell(f"{shown(text).strip(chr(34))} cannot be, it lies outside {low:g} to {high:g}")
    return value


def whole(text: str, low: int, high: int) -> int | None:
    """A whole number within a range (``262`` or ``262.0``); None for an empty cell; else `BadCell`."""
    text = text.strip(" \t")
    if not text:
        return None
    bare = text[:-2] if text.endswith(".0") else text
    if not _WHOLE.match(bare):
        raise BadCell(f"{shown(text)} is no whole number")
    value = int(bare)
    if not low <= value <= high:
        raise BadCell(f"{value} cannot be, it lies outside {low} to {high}")
    return value


def moment(text: str) -> datetime | None:
    """A date and time; without an offset it is taken as UTC (the caller names that); None for an empty cell."""
    text = text.strip(" \t")
    if not text:
        return None
    if len(text) > 40:
        raise BadCell(f"{shown(text)} is no date and time")
    try:
        value = datetime.fromisoformat(text)
    except ValueError:
        raise BadCell(f"{shown(text)} is no date and time; write it such as 2025-11-17T22:10:00+01:00") from None
    if value.tzinfo is None:
        return value.replace(tzinfo=UTC)
    return value


def has_no_offset(text: str) -> bool:
    """Whether a moment is written without its offset from UTC."""
    text = text.strip(" \t")
    return bool(text) and not re.search(r"(?:[zZ]|[+-]\d\d:?\d\d(?::?\d\d)?)\Z", text)


class Rows:
    """The rows of a CSV text after its header, as lists of cells as long as the header."""

    def __init__(self, file: str, text: str, log: FaultLog, *, needed: Sequence[str], forbids: Sequence[str]) -> None:
        self.file = file
        self.log = log
        self.forbids = tuple(forbids)
        self._lines = _lines(text)
        self.columns: dict[str, int] = {}
        self.usable = self._read_header(needed)

    def _read_header(self, needed: Sequence[str]) -> bool:
        line, text = next(self._lines, (1, ""))
        try:
            names = [clean(name.strip()) for name in _split(text)]
        except BadCell:
            names = [text]
        first = shown(text, longest=40)
        missing = [name for name in needed if name not in names]
        if missing and len(names) == 1 and re.search(r"[;\t|]", text):
            what = f"the header {first} is not separated by commas; import it with `wearplan rings`, or save it with "
            "commas"
        elif len(missing) == len(needed):
            what = f"the first line {first} is not the header; it must name the columns {','.join(needed)}"
        elif missing:
            others = [name for name in names if name not in needed]
            hints = [f"{name} ({did_you_mean(name, others)})" if nearest(name, others) else name for name in missing]
            what = f"columns are missing in the header: {', '.join(hints)}; add them"
        elif len(names) > MOST_COLUMNS:
            what = f"has {len(names)} columns; {MOST_COLUMNS} may be"
        elif len(set(filter(None, names))) < len([name for name in names if name]):
            what = "two columns have the same name; give each its own"
        else:
            self.columns = {name: at for at, name in enumerate(names) if name}
            self.width = len(names)
            return True
        self.log.add(self.file, line, "header", what, code="bad-header", forbids=self.forbids)
        return False

    def __iter__(self) -> Iterator[tuple[int, list[str], str | None]]:
        """Yield ``(line, cells, why the row is damaged as a whole or None)``."""
        count = 0
        for line, text in self._lines:
            if not text.strip(" ,\t"):
                continue
            count += 1
            if count > MOST_ROWS:
                self.log.add(
                    self.file, line, "", f"has more than {MOST_ROWS} rows: no drive has; the rest is not read",
                    code="too-many-rows", forbids=self.forbids,
                )  # fmt: skip
                return
            why = None
            if CONTROL.search(text):
                what = "holds control characters (they could steer a terminal); they are shown as \ufffd"
                self.log.add(self.file, line, "", what, code="control-characters", forbids=NOTHING)
                text = clean(text)
            try:
                cells = _split(text)
            except BadCell as error:
                cells, why = text[:_LONGEST_LINE].split(",")[: self.width], str(error)
            if why is None and len(cells) != self.width:
                cell = "cell" if len(cells) == 1 else "cells"
                why = f"the row has {len(cells)} {cell}, the header has {self.width}"
            cells = [*cells[: self.width], *([""] * (self.width - len(cells)))]
            yield line, cells, why


def _lines(text: str) -> Iterator[tuple[int, str]]:
    """The lines of a text without a list of them all; only line feeds (and a return before them) end one."""
    at, line = 0, 0
    while at < len(text):
        end = text.find("\n", at)
        end = len(text) if end < 0 else end
        line += 1
        yield line, text[at:end].rstrip("\r")
        at = end + 1


def _split(text: str) -> list[str]:
    if len(text) > _LONGEST_LINE:
        raise BadCell(f"the line has {len(text)} characters")
    if '"' not in text:
        cells = text.split(",")
    else:
        try:
            cells = next(csv.reader([text], strict=True))
        except (csv.Error, StopIteration):
            raise BadCell("the quotes of the row do not close") from None
    return cells
